// Forms with files: sent by fetch, since only a script can say how far they are and what was wrong with them
// without losing what was typed.
import {say, token} from "./net.js";

const sending = form => {
  for (const e of form.querySelectorAll("button")) e.disabled = true;
  const shown = form.querySelector("[data-sending]");
  if (shown) shown.hidden = false;
};

const failed = (form, text) => {
  for (const e of form.querySelectorAll("button")) e.disabled = false;
  const shown = form.querySelector("[data-sending]");
  if (shown) shown.hidden = true;
  const fault = form.querySelector("[data-fault]");
  fault.textContent = text;
  fault.hidden = false;
  fault.focus?.();
};

async function send(form) {
  const body = new FormData(form);
  sending(form);
  try {
    const r = await fetch(form.dataset.send, {
      method: "POST",
      headers: {Accept: "application/json", "X-Sitspan-Token": token},
      body,
    });
    const said = await r.json().catch(() => ({}));
    if (r.ok && said.go) location.assign(said.go);
    else failed(form, said.error || say("upload.broken"));
  } catch {
    failed(form, say("desk.away"));
  }
}

for (const form of document.querySelectorAll("form[data-send]")) {
  form.addEventListener("submit", e => {
    e.preventDefault();
    send(form);
  });
  for (const input of form.querySelectorAll("[data-at-once]")) {
    input.addEventListener("change", () => send(form));
  }
  for (const input of form.querySelectorAll("input[type=file][data-names]")) {
    const names = document.getElementById(input.dataset.names);
    input.addEventListener("change", () => {
      names.textContent = [...input.files].map(f => f.name).join(", ");
    });
  }
}
