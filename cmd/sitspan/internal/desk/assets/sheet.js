"use strict";
document.getElementById("print")?.addEventListener("click", () => {
  const frame = document.getElementById("sheet");
  try { frame.contentWindow.focus(); frame.contentWindow.print(); } catch { window.open(frame.src, "_blank", "noopener"); }
});
