// The sheet's page: its preview can be printed.
document.getElementById("print")?.addEventListener("click", () => {
  const frame = document.getElementById("sheet");
  const alone = () => window.open(frame.src, "_blank", "noopener");
  if (!frame.checkVisibility()) {
    alone();
    return;
  } // a phone shows a PDF by itself
  try {
    frame.contentWindow.focus();
    frame.contentWindow.print();
  } catch {
    alone();
  }
});
