// What pages ask the desk, and the words that they say.

export const token = document.querySelector("meta[name=token]")?.content ?? "";

const headers = {Accept: "application/json", "X-Sitspan-Token": token};

export const post = (url, body) =>
  fetch(url, {
    method: "POST",
    headers: {...headers, "Content-Type": "application/json"},
    body: JSON.stringify(body),
  });

export const get = url => fetch(url, {headers});

const texts = JSON.parse(document.getElementById("words")?.textContent ?? "{}");

// say gives a text with its places, {name}, filled, as the desk itself does.
export const say = (key, values = {}) =>
  (texts[key] ?? key).replace(/\{(\w+)\}/g, (place, name) => values[name] ?? place);
