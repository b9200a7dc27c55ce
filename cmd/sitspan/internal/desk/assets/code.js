// The page with a code follows what becomes of it.
import {get} from "./net.js";

const root = document.getElementById("code"),
  said = document.getElementById("code-state");

async function look() {
  try {
    const r = await get(`/phone/code/${root.dataset.number}`);
    const {state, text} = await r.json();
    if (state === "used") {
      location.replace(root.dataset.next);
      return;
    }
    if (r.ok && state !== "open") {
      said.textContent = text;
      root.classList.add("over");
      document.getElementById("code-again").hidden = false;
      return;
    }
  } catch {
    /* the desk is away for a moment */
  }
  setTimeout(look, 1000);
}
look();
