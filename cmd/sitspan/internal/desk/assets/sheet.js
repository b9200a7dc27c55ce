"use strict";
document.getElementById("print")?.addEventListener("click", () => {
  const frame = document.getElementById("sheet");
  if (!frame.checkVisibility()) { window.open(frame.src, "_blank", "noopener"); return; } // a phone shows a PDF by itself
  try { frame.contentWindow.focus(); frame.contentWindow.print(); } catch { window.open(frame.src, "_blank", "noopener"); }
});
