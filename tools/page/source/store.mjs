// Machines in the browser's own storage. Every change is written before the next can be typed (localStorage answers at
// once); photos, which are larger, lie in a database beside it. Nothing is overwritten that another window wrote.

const PREFIX = "rewound/";
const MACHINE = `${PREFIX}machine/`;
const REFERENCE = `${PREFIX}reference/`;
const DECISION = `${PREFIX}decision/`; // beside the machine: a judgement is no change of it
const OPENED = `${PREFIX}opened`;

const new_id = () => Date.now().toString(36) + Math.random().toString(36).slice(2, 8);

export class Store {
  /** @param tell  called with a kind of trouble: full, none, other, copy, gone, broken */
  constructor(tell) {
    this.tell = tell;
    this.window = new_id();
    this.machine = null; // the one that is open
    this.changed_elsewhere = () => {};
    this.unsaved = false;
    try {
      this.disk = window.localStorage;
      this.disk.getItem(OPENED);
    } catch {
      this.disk = null;
      tell("none");
    }
    window.addEventListener("storage", (event) => this.heard(event));
  }

  /** All stored machines, the last changed first. */
  machines() {
    const out = [];
    for (const key of this.keys(MACHINE)) {
      try {
        out.push(JSON.parse(this.disk.getItem(key)));
      } catch {
        this.tell("broken", key.slice(MACHINE.length));
      }
    }
    if (this.machine && !out.some(({ id }) => id === this.machine.id) && this.unsaved) out.push(this.machine);
    for (const machine of out) machine.decision = this.decision_of(machine.id);
    return out.sort((a, b) => b.changed - a.changed);
  }

  decision_of(id) {
    return this.disk?.getItem(DECISION + id) ?? "";
  }

  keep_decision(id, decision) {
    if (this.decision_of(id) !== decision) this.put(DECISION + id, decision);
  }

  keys(prefix) {
    if (!this.disk) return [];
    return Array.from({ length: this.disk.length }, (_, i) => this.disk.key(i)).filter((key) => key?.startsWith(prefix));
  }

  create(typed, more = {}) {
    const now = Date.now();
    this.machine = { id: new_id(), revision: 0, changed: now, typed, kept: {}, accepted: "", photos: [], ...more };
    return this.machine;
  }

  open(id) {
    const text = this.disk?.getItem(MACHINE + id);
    if (!text) return null;
    this.machine = JSON.parse(text);
    this.put(OPENED, id);
    return this.machine;
  }

  last_opened() {
    const id = this.disk?.getItem(OPENED);
    try {
      return id ? this.open(id) : null;
    } catch {
      return null;
    }
  }

  /** Writes the open machine. What another window wrote meanwhile stays, and this one becomes a machine of its own. */
  save() {
    const machine = this.machine;
    if (!this.disk) return false;
    const there = this.stored(machine.id);
    if (there && there.revision !== machine.revision) {
      machine.id = new_id();
      machine.revision = 0;
      this.tell("copy", machine.id);
    } else if (!there && machine.revision > 0) this.tell("gone");
    machine.revision += 1;
    machine.window = this.window;
    machine.changed = Date.now();
    const saved = this.put(MACHINE + machine.id, JSON.stringify(machine));
    if (saved) this.put(OPENED, machine.id);
    else machine.revision -= 1;
    this.unsaved = !saved;
    this.tell(saved ? "saved" : "full");
    return saved;
  }

  stored(id) {
    try {
      return JSON.parse(this.disk.getItem(MACHINE + id));
    } catch {
      return null;
    }
  }

  put(key, text) {
    try {
      this.disk?.setItem(key, text);
      return true;
    } catch {
      return false;
    }
  }

  delete(id) {
    const machine = this.stored(id);
    this.disk?.removeItem(MACHINE + id);
    this.disk?.removeItem(DECISION + id);
    const others = new Set(this.machines().flatMap((one) => (one.photos ?? []).map((photo) => photo.id)));
    for (const photo of machine?.photos ?? []) if (!others.has(photo.id)) photos.delete(photo.id);
    if (this.machine?.id === id) this.machine = null;
  }

  heard(event) {
    if (!this.machine || event.key !== MACHINE + this.machine.id || !event.newValue) return;
    const there = JSON.parse(event.newValue);
    if (there.window === this.window || this.unsaved) return;
    this.machine = there;
    this.changed_elsewhere();
    this.tell("other");
  }

  references() {
    return this.keys(REFERENCE).map((key) => JSON.parse(this.disk.getItem(key)));
  }

  keep_reference(reference) {
    return this.put(REFERENCE + reference.model, JSON.stringify(reference));
  }

  delete_reference(model) {
    this.disk?.removeItem(REFERENCE + model);
  }
}

/** Photos by name, as data URLs; in memory where the browser has no database for this page. */
export const photos = {
  memory: new Map(),

  database() {
    this.opened ??= new Promise((resolve) => {
      try {
        const asked = indexedDB.open("rewound", 1);
        asked.onupgradeneeded = () => asked.result.createObjectStore("photos");
        asked.onsuccess = () => resolve(asked.result);
        asked.onerror = () => resolve(null);
      } catch {
        resolve(null);
      }
    });
    return this.opened;
  },

  async run(mode, work) {
    const database = await this.database();
    if (!database) return null;
    return new Promise((resolve) => {
      const transaction = database.transaction("photos", mode);
      const asked = work(transaction.objectStore("photos"));
      transaction.oncomplete = () => resolve(asked.result ?? true);
      transaction.onerror = transaction.onabort = () => resolve(null);
    });
  },

  /** @return false where there was no room on disk; the photo is then kept in this window alone */
  async put(id, data) {
    this.memory.set(id, data);
    return (await this.run("readwrite", (store) => store.put(data, id))) !== null;
  },

  async get(id) {
    if (this.memory.has(id)) return this.memory.get(id);
    const found = await this.run("readonly", (store) => store.get(id));
    return typeof found === "string" ? found : null;
  },

  delete(id) {
    this.memory.delete(id);
    return this.run("readwrite", (store) => store.delete(id));
  },
};

const LONGEST_SIDE = 1280; // pixels: a plate is still read on it, and a photo takes some 150 kB
const QUALITY = 0.72;

/** A picture file as a scaled down JPEG. */
export async function scaled_down(file) {
  const address = URL.createObjectURL(file);
  try {
    const image = new Image();
    image.src = address;
    await image.decode();
    const scale = Math.min(1, LONGEST_SIDE / Math.max(image.naturalWidth, image.naturalHeight));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(image.naturalWidth * scale));
    canvas.height = Math.max(1, Math.round(image.naturalHeight * scale));
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    return { data: canvas.toDataURL("image/jpeg", QUALITY), width: canvas.width, height: canvas.height };
  } finally {
    URL.revokeObjectURL(address);
  }
}
