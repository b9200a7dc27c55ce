// Every page of the desk: what was typed and not kept survives.
import {Drafts} from "./drafts.js";

const drafts = new Drafts(sessionStorage);
for (const link of document.querySelectorAll("[data-forget]")) {
  link.addEventListener("click", () => drafts.forget(link.dataset.forget));
}
for (const form of document.querySelectorAll("form[data-draft]")) {
  drafts.watch(form, () => {
    for (const e of document.querySelectorAll("[data-restored]")) e.hidden = false;
  });
}
