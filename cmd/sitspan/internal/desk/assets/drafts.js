// What was typed and is not kept yet, for this window alone: it is there again after a step, or another
// language. A draft that was sent is dropped where the desk has kept it: the form then has another version.

const prefix = "draft ";

// fieldsOf is what a form's fields hold, by name and place.
export function fieldsOf(form) {
  return [...form.elements]
    .filter(e => e.name && !/^(hidden|submit|button|file)$/.test(e.type))
    .map(e => (/^(checkbox|radio)$/.test(e.type) ? [e.name, e.value, e.checked] : [e.name, e.value]));
}

// fill puts fields back; those that the form no longer has are left out.
export function fill(form, fields) {
  const seen = {};
  for (const [name, value, checked] of fields) {
    const all = [...form.elements].filter(
      e => e.name === name && !/^(hidden|submit|button|file)$/.test(e.type),
    );
    if (checked !== undefined) {
      for (const e of all) if (e.value === value) e.checked = checked;
      continue;
    }
    const e = all[(seen[name] = (seen[name] ?? -1) + 1)];
    if (e) e.value = value;
  }
}

// draftFor says what is to be done with a draft where its form shows a version: "fill", "forget" or
// nothing.
export function draftFor(draft, version) {
  if (!draft) return "";
  return draft.sent && draft.version !== version ? "forget" : "fill";
}

export class Drafts {
  constructor(storage) {
    this.storage = storage;
  }

  read(key) {
    try {
      return JSON.parse(this.storage.getItem(prefix + key));
    } catch {
      return null;
    }
  }

  write(key, draft) {
    try {
      this.storage.setItem(prefix + key, JSON.stringify(draft));
    } catch {
      /* a browser that keeps nothing */
    }
  }

  forget(key) {
    this.storage.removeItem(prefix + key);
  }

  // watch keeps a form's draft, and gives back what is there of one; restored hears that something was.
  watch(form, restored) {
    const key = form.dataset.draft;
    if (form.hasAttribute("data-kept")) this.forget(key);
    const draft = this.read(key);
    let version = form.dataset.version;
    switch (form.hasAttribute("data-unsaved") ? "save" : draftFor(draft, version)) {
      case "save":
        this.write(key, {version, fields: fieldsOf(form)});
        break;
      case "forget":
        this.forget(key);
        break;
      case "fill":
        fill(form, draft.fields);
        version = draft.version; // so that a change by another window is seen
        if (form.elements.version) form.elements.version.value = version;
        if (form.elements.was) form.elements.was.value = version;
        restored(form);
    }
    form.addEventListener("input", () => this.write(key, {version, fields: fieldsOf(form)}));
    form.addEventListener("submit", () => {
      if (form.hasAttribute("data-once")) this.forget(key); // of the next rider nothing is known yet
      const now = this.read(key);
      if (now) this.write(key, {...now, version, sent: true});
    });
  }
}
