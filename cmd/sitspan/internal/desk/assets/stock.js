// The stock's page: a chosen file's text goes into the form, and is checked by the desk at once.
const most = 600_000; // bytes; a form of the desk holds 1 MB

// textOf reads UTF-8, and what spreadsheets of older systems write (Windows-1252).
export function textOf(bytes) {
  try {
    return new TextDecoder("utf-8", {fatal: true}).decode(bytes);
  } catch {
    return new TextDecoder("windows-1252").decode(bytes);
  }
}

const form = document.getElementById("stock");
form?.querySelector("#stock-file").addEventListener("change", async e => {
  const file = e.target.files[0],
    fault = document.getElementById("stock-file-fault");
  if (!file) return;
  const text = file.size > most ? "\0" : textOf(await file.arrayBuffer());
  fault.hidden = !text.includes("\0");
  if (!fault.hidden) return;
  for (const mend of form.querySelectorAll(".mend input")) mend.disabled = true; // of another text
  form.querySelector("#text").value = text;
  form.requestSubmit(form.querySelector("#stock-check"));
});
