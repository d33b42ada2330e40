// What was entered without reception, on this tablet (IndexedDB): one row an act, one row a photograph.
// A photograph is kept as bytes with its hash: files and blobs come back short or broken on some tablets.

const NAME = "walks-kept";
let opened = null;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      // The order in which things were kept is the order in which they are sent.
      const items = asked.result.createObjectStore("items", { keyPath: "order", autoIncrement: true });
      items.createIndex("id", "id", { unique: true });
      asked.result.createObjectStore("photos", { keyPath: "id" });
    };
    asked.onerror = () => reject(asked.error);
    asked.onblocked = () => reject(new DOMException("another tab holds the store", "InvalidStateError"));
    asked.onsuccess = () => {
      asked.result.onclose = () => (opened = null);
      asked.result.onversionchange = () => {
        asked.result.close();
        opened = null;
      };
      resolve(asked.result);
    };
  });
  return opened;
}

// The connection gets lost when a tablet sleeps: open it anew, once, and then say so.
async function within(mode, work) {
  for (let left = 1; ; left -= 1) {
    try {
      const database = await open();
      return await new Promise((resolve, reject) => {
        const transaction = database.transaction(["items", "photos"], mode, { durability: "strict" });
        let given;
        transaction.oncomplete = () => resolve(given);
        transaction.onabort = () => reject(transaction.error ?? new DOMException("not kept", "AbortError"));
        work(transaction.objectStore("items"), transaction.objectStore("photos"), (value) => (given = value));
      });
    } catch (failure) {
      opened = null;
      if (!left || !["InvalidStateError", "UnknownError"].includes(failure?.name)) throw failure;
    }
  }
}

export async function hashOf(bytes) {
  const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...hash].map((one) => one.toString(16).padStart(2, "0")).join("");
}

// UUID version 7, as the server makes them: milliseconds first, so that they sort by time.
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let now = Date.now();
  for (let place = 5; place >= 0; place -= 1) {
    bytes[place] = now % 256;
    now = Math.floor(now / 256);
  }
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const text = [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
  return text.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

// Keeps an act and, of a photograph, its bytes; both or neither. It is kept once it was read back and is the same.
export async function keep(item, photo = null) {
  const bytes = photo ? await photo.arrayBuffer() : null;
  const row = { ...item, state: "waiting" };
  if (bytes) Object.assign(row, { sha256: await hashOf(bytes), type: photo.type, name: photo.name });
  await within("readwrite", (items, photos) => {
    items.add(row);
    if (bytes) photos.put({ id: row.id, bytes });
  });
  const there = (await listKept()).find((one) => one.id === row.id);
  const back = bytes ? await photoOf(row.id) : null;
  if (!there || (bytes && (!back || (await hashOf(back)) !== row.sha256))) {
    await drop(row.id);
    throw new DOMException("it did not come back as it was", "DataError");
  }
  return there;
}

export function listKept() {
  return within("readonly", (items, _photos, give) => {
    const asked = items.getAll();
    asked.onsuccess = () => give(asked.result);
  });
}

export async function photoOf(id) {
  const row = await within("readonly", (_items, photos, give) => {
    const asked = photos.get(id);
    asked.onsuccess = () => give(asked.result);
  });
  return row?.bytes ?? null;
}

// What the server would not take stays, with its words.
export function markRefused(id, answer) {
  return within("readwrite", (items) => {
    const asked = items.index("id").get(id);
    asked.onsuccess = () => asked.result && items.put({ ...asked.result, state: "refused", answer });
  });
}

export function drop(id) {
  return within("readwrite", (items, photos) => {
    const asked = items.index("id").getKey(id);
    asked.onsuccess = () => asked.result !== undefined && items.delete(asked.result);
    photos.delete(id);
  });
}
