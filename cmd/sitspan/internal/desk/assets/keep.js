// Photos that are not sent yet, kept by the browser: a phone may end a page while its camera is open.
// Where the browser keeps nothing, the queue works all the same, for as long as the page lives.

const store = "photos";

function database() {
  return new Promise((done, fail) => {
    const r = indexedDB.open("sitspan", 1);
    r.onupgradeneeded = () => r.result.createObjectStore(store, {keyPath: "key"});
    r.onsuccess = () => done(r.result);
    r.onerror = () => fail(r.error);
  });
}

async function within(mode, f) {
  const db = await database();
  try {
    return await new Promise((done, fail) => {
      const t = db.transaction(store, mode),
        r = f(t.objectStore(store));
      t.oncomplete = () => done(r?.result);
      t.onerror = t.onabort = () => fail(t.error);
    });
  } finally {
    db.close();
  }
}

const quiet = p => p.catch(() => undefined);

export const keep = {
  put: item =>
    quiet(
      within("readwrite", s => s.put({key: item.key, visit: item.visit, name: item.name, file: item.file})),
    ),
  drop: item => quiet(within("readwrite", s => s.delete(item.key))),
  all: async () => (await quiet(within("readonly", s => s.getAll()))) ?? [],
  clear: () => quiet(within("readwrite", s => s.clear())),
};

// takeUp gives the queue what an ended page left unsent for a visit; another visit's photos stay where they
// are.
export async function takeUp(queue, visit) {
  const left = (await keep.all()).filter(p => p.visit === visit);
  if (left.length)
    queue.add(
      left.map(p => named(p.file, p.name)),
      visit,
      left.map(p => p.key),
    );
}

const named = (file, name) => (file.name === name ? file : new File([file], name, {type: file.type}));
