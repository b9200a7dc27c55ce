// What is wrong with a form's field: said beside it, and tied to it, for eyes and for screen readers.
export function showFault(form, place, text, field) {
  for (const e of form.querySelectorAll("[aria-invalid]")) {
    e.removeAttribute("aria-invalid");
    e.removeAttribute("aria-describedby");
  }
  place.textContent = text;
  place.hidden = !text;
  const e = text && field ? form.querySelector("#" + field) : null;
  if (e) {
    e.setAttribute("aria-invalid", "true");
    e.setAttribute("aria-describedby", place.id);
    if (document.activeElement?.closest("form, #primary")) e.focus();
  }
  if (text) place.scrollIntoView({block: "nearest"});
}
