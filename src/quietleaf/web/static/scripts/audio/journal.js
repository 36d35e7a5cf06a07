// The journal of one reading in this browser: records in the browser's private file storage, in
// segments, before they go anywhere else. What the station has on its disk is deleted here.
//
// Appending is synchronous and never refuses: where the store takes nothing more, a segment lies in
// memory until the station has it, and `isWhole` says so.

import {
  batchFrom,
  ENTRY,
  entryAt,
  entryBytes,
  isKept,
  recordAt,
  recordBytes,
  SOUND,
} from "../core/records.js";

/** @typedef {import("../core/records.js").RecordSeen} RecordSeen */
/** @typedef {import("../messages.js").Progress} Progress */
/** @typedef {import("../messages.js").About} About */
/** @typedef {import("../messages.js").Entry} Entry */

export const SEGMENT_RECORDS = 256;
const FOLDER = "journals";
const ABOUT = "about.json";
/** A worker that was ended lets go of its files a moment later. */
const TRIES = 40;
const TRY_AGAIN_MS = 50;

/**
 * Where the next message to the station begins.
 * @typedef {{segment: number, index: number}} Cursor
 */

class Segment {
  /** @type {RecordSeen[]} */ records = [];
  size = 0;
  /** @type {FileSystemSyncAccessHandle | null} */ #file;
  /** @type {FileSystemFileHandle | null} */ #handle;
  /** @type {Uint8Array<ArrayBuffer>[]} */ #memory = [];

  /**
   * @param {number} number
   * @param {FileSystemFileHandle | null} handle null: in memory
   * @param {FileSystemSyncAccessHandle | null} file null: nothing more is written into it
   */
  constructor(number, handle = null, file = null) {
    this.number = number;
    this.#handle = handle;
    this.#file = file;
  }

  get isFile() {
    return this.#handle !== null;
  }

  /**
   * @param {Uint8Array<ArrayBuffer>} bytes
   * @throws where the store takes no more
   */
  write(bytes) {
    if (this.#handle === null) {
      this.#memory.push(bytes);
    } else if (this.#file?.write(bytes, { at: this.size }) !== bytes.length) {
      throw new DOMException("the store is full", "QuotaExceededError");
    }
    this.size += bytes.length;
  }

  /**
   * @param {number} from index of the first record
   * @param {number} stop half-open
   * @returns {Promise<Uint8Array<ArrayBuffer>>}
   */
  async read(from, stop) {
    const at = /** @type {RecordSeen} */ (this.records[from]).at;
    const last = /** @type {RecordSeen} */ (this.records[stop - 1]);
    const size = last.at + last.size - at;
    if (this.#file !== null) {
      const bytes = new Uint8Array(size);
      this.#file.read(bytes, { at });
      return bytes;
    }
    if (this.#handle !== null) {
      const file = await this.#handle.getFile();
      return new Uint8Array(await file.slice(at, at + size).arrayBuffer());
    }
    return new Uint8Array(await new Blob(this.#memory.slice(from, stop)).arrayBuffer());
  }

  flush() {
    this.#file?.flush();
  }

  /** Nothing more is written into it. */
  close() {
    this.#file?.flush();
    this.#file?.close();
    this.#file = null;
  }
}

export class Journal {
  /** @type {FileSystemDirectoryHandle | null} */ #folder;
  /** @type {Segment[]} */ #segments = [];
  /** @type {Segment | null} */ #next = null;
  #preparing = false;
  #closed = false;
  #tidying = Promise.resolve();
  /** @type {Cursor} */ #kept = { segment: 0, index: 0 };

  records = 0;
  entries = 0;
  /** Of the present take. */
  samples = 0;
  /** Whether a take is open. */
  isOpen = false;
  /** Samples and bytes that the station has not confirmed. */
  behindSamples = 0;
  behindBytes = 0;
  /** Samples that it has. */
  keptSamples = 0;
  rate = 48_000;
  /** Whether all of it could be written into the browser's store. */
  isWhole = true;

  /**
   * @param {string} id
   * @param {About} about
   * @param {FileSystemDirectoryHandle | null} folder
   */
  constructor(id, about, folder) {
    this.id = id;
    this.about = about;
    this.#folder = folder;
  }

  /**
   * Begin a journal; in memory alone where the browser keeps no files.
   * @param {About} about
   * @param {string} id
   * @returns {Promise<Journal>}
   */
  static async create(about, id) {
    const folder = await newFolder(id, about).catch(() => null);
    const journal = new Journal(id, about, folder);
    journal.isWhole = folder !== null;
    journal.#segments.push(await journal.#newSegment(0));
    return journal;
  }

  /**
   * Read a journal that an earlier page left. Its torn end, if it has one, is left out.
   * @param {string} id
   * @returns {Promise<Journal | null>} null if nothing of it can be read
   */
  static async reopen(id) {
    const folder = await (await journalsFolder()).getDirectoryHandle(id);
    const about = await readAbout(folder);
    if (about === null) return null;
    const journal = new Journal(id, about, folder);
    await journal.#scan(folder);
    return journal;
  }

  get isAllKept() {
    return this.behindBytes === 0;
  }

  /**
   * @param {Uint8Array} pcm int24
   * @param {number} samples
   */
  addSound(pcm, samples) {
    this.#append(SOUND, this.samples, samples, pcm);
    this.samples += samples;
  }

  /** @param {Entry} entry */
  addEntry(entry) {
    this.#append(ENTRY, 0, 0, entryBytes(entry));
    this.entries += 1;
    this.#follow(entry);
  }

  /** Make sure that what was written survives a power cut. */
  flush() {
    this.#segments.at(-1)?.flush();
  }

  /**
   * Seal what a page left open when it was closed, where the station's own count may be ahead: it
   * may have what the store of this browser lost in a power cut.
   * @param {Progress} progress
   */
  async sealLeftOpen({ entries, samples }) {
    if (entries > this.entries) {
      this.entries = entries;
      this.isOpen = samples > 0;
      this.samples = samples;
    } else if (entries === this.entries) {
      this.samples = Math.max(this.samples, samples);
    }
    if (!this.isOpen) return;
    const number = (this.#segments.at(-1)?.number ?? -1) + 1;
    this.#segments.push(await this.#newSegment(number));
    this.addEntry({ what: "sealed", samples: this.samples });
    this.flush();
  }

  /**
   * Take note of what the station has on its disk, and delete it here.
   * @param {Progress} progress
   */
  keep(progress) {
    for (;;) {
      const segment = this.#segments.find(({ number }) => number === this.#kept.segment);
      const record = segment?.records[this.#kept.index];
      if (record !== undefined) {
        if (!isKept(record, progress)) break;
        this.behindSamples -= record.samples;
        this.keptSamples += record.samples;
        this.behindBytes -= record.size;
        this.#kept.index += 1;
      } else {
        const next = this.#segments.find(({ number }) => number > this.#kept.segment);
        if (next === undefined || next.records.length === 0) break;
        this.#kept = { segment: next.number, index: 0 };
      }
    }
    this.#tidying = this.#tidying.then(() => this.#tidy());
  }

  /** @returns {Cursor} the first record that the station does not have */
  cursor() {
    return { ...this.#kept };
  }

  /**
   * Give the next message to the station, and where the one after it begins.
   * @param {Cursor} cursor
   * @returns {Promise<{bytes: Uint8Array<ArrayBuffer>, cursor: Cursor} | null>} null at the end
   */
  async message(cursor) {
    const { segment: number, index } = cursor.segment < this.#kept.segment ? this.#kept : cursor;
    for (const segment of this.#segments) {
      const from = segment.number === number ? index : 0;
      if (segment.number < number || from >= segment.records.length) continue;
      const { stop } = batchFrom(segment.records, from);
      const bytes = await segment.read(from, stop);
      return { bytes, cursor: { segment: segment.number, index: stop } };
    }
    return null;
  }

  async close() {
    this.#closed = true;
    await this.#tidying;
    for (const segment of this.#segments) segment.close();
    this.#next?.close();
  }

  /** Close it and delete it wholly. */
  async remove() {
    await this.close();
    await removeJournal(this.id);
  }

  /**
   * @param {1 | 2} kind
   * @param {number} first
   * @param {number} samples
   * @param {Uint8Array} payload
   */
  #append(kind, first, samples, payload) {
    const head = { kind, number: this.records, entries: this.entries, first };
    const bytes = recordBytes(head, payload);
    let segment = /** @type {Segment} */ (this.#segments.at(-1));
    if (this.#next !== null && (segment.records.length >= SEGMENT_RECORDS || !segment.isFile)) {
      segment.close();
      segment = this.#next;
      this.#next = null;
      this.#segments.push(segment);
    }
    try {
      segment.write(bytes);
    } catch {
      // The store is full: in memory it can still go up.
      this.isWhole = false;
      segment = new Segment(segment.number + 1);
      this.#next?.close();
      this.#next = null;
      this.#segments.push(segment);
      segment.write(bytes);
    }
    segment.records.push({ ...head, samples, at: segment.size - bytes.length, size: bytes.length });
    this.records += 1;
    this.behindSamples += samples;
    this.behindBytes += bytes.length;
    if (segment.records.length >= SEGMENT_RECORDS / 2) void this.#prepare(segment.number + 1);
  }

  /** @param {number} number */
  async #prepare(number) {
    if (this.#preparing || this.#next !== null || this.#folder === null) return;
    this.#preparing = true;
    const segment = await this.#newSegment(number);
    this.#preparing = false;
    // Meanwhile a segment in memory may have taken its number.
    const last = this.#segments.at(-1)?.number ?? -1;
    if (this.#closed || last >= number || !segment.isFile) segment.close();
    else this.#next = segment;
  }

  /** @param {number} number */
  async #newSegment(number) {
    if (this.#folder === null) return new Segment(number);
    try {
      const handle = await this.#folder.getFileHandle(segmentName(number), { create: true });
      const file = await opened(handle);
      file.truncate(0);
      return new Segment(number, handle, file);
    } catch {
      // No room: it lies in memory.
      this.isWhole = false;
      return new Segment(number);
    }
  }

  /** @param {FileSystemDirectoryHandle} folder */
  async #scan(folder) {
    /** @type {[number, FileSystemFileHandle][]} */
    const files = [];
    for await (const [name, handle] of folder.entries()) {
      const number = /^(\d+)\.records$/.exec(name)?.[1];
      if (number === undefined) continue;
      files.push([Number(number), /** @type {FileSystemFileHandle} */ (handle)]);
    }
    files.sort(([a], [b]) => a - b);
    let isTorn = false;
    for (const [number, handle] of files) {
      const segment = new Segment(number, handle);
      const bytes = new Uint8Array(await (await handle.getFile()).arrayBuffer());
      while (!isTorn && segment.size < bytes.length) {
        const record = recordAt(bytes, segment.size);
        isTorn = record === null || (this.records > 0 && record.number !== this.records);
        if (record === null || isTorn) break;
        segment.records.push(record);
        segment.size += record.size;
        this.#continue(bytes, record);
      }
      // Also an empty one keeps its number: what is appended comes after it.
      this.#segments.push(segment);
    }
    const [first] = this.#segments;
    if (first !== undefined) this.#kept = { segment: first.number, index: 0 };
  }

  /**
   * @param {Uint8Array} bytes
   * @param {RecordSeen} record
   */
  #continue(bytes, record) {
    this.records = record.number + 1;
    this.entries = record.entries + (record.kind === ENTRY ? 1 : 0);
    this.behindSamples += record.samples;
    this.behindBytes += record.size;
    if (record.kind === ENTRY) {
      this.#follow(entryAt(bytes, record));
    } else {
      this.isOpen = true;
      this.samples = record.first + record.samples;
    }
  }

  /** @param {Entry} entry */
  #follow(entry) {
    if (entry.what === "rolled") {
      this.isOpen = true;
      this.samples = 0;
      this.rate = entry.rate;
    } else if (entry.what === "sealed") {
      this.isOpen = false;
      this.samples = 0;
    } else {
      this.isOpen = true;
    }
  }

  /** Delete segments in their order, so that what is left has no hole in it. */
  async #tidy() {
    while (this.#segments.length > 1) {
      const [segment, after] = /** @type {[Segment, Segment]} */ (this.#segments);
      // The last records stay: from them a later page sees where the journal ends.
      if (segment.number >= this.#kept.segment || after.records.length === 0) return;
      after.flush();
      segment.close();
      try {
        await this.#folder?.removeEntry(segmentName(segment.number));
      } catch (fault) {
        if (/** @type {DOMException} */ (fault).name !== "NotFoundError") return;
      }
      this.#segments.shift();
    }
  }
}

/**
 * Name the journals that lie in this browser.
 * @returns {Promise<string[]>}
 */
export async function journalsHere() {
  /** @type {string[]} */
  const found = [];
  try {
    for await (const name of (await journalsFolder()).keys()) found.push(name);
  } catch {
    // A browser that keeps no files has none.
  }
  return found;
}

/**
 * Say what is known of a journal beside its records; null if it was never begun wholly.
 * @param {string} id
 * @returns {Promise<About | null>}
 */
export async function aboutJournal(id) {
  try {
    return await readAbout(await (await journalsFolder()).getDirectoryHandle(id));
  } catch {
    // Somebody else has removed it meanwhile.
    return null;
  }
}

/** @param {string} id */
export async function removeJournal(id) {
  try {
    await (await journalsFolder()).removeEntry(id, { recursive: true });
  } catch {
    // It is gone already, or another page's worker still has it: the next page tries again.
  }
}

async function journalsFolder() {
  const root = await navigator.storage.getDirectory();
  return root.getDirectoryHandle(FOLDER, { create: true });
}

/**
 * @param {string} id
 * @param {About} about
 */
async function newFolder(id, about) {
  const folder = await (await journalsFolder()).getDirectoryHandle(id, { create: true });
  const file = await opened(await folder.getFileHandle(ABOUT, { create: true }));
  try {
    file.write(new TextEncoder().encode(JSON.stringify(about)));
    file.flush();
  } finally {
    file.close();
  }
  return folder;
}

/**
 * @param {FileSystemDirectoryHandle} folder
 * @returns {Promise<About | null>}
 */
async function readAbout(folder) {
  try {
    const file = await (await folder.getFileHandle(ABOUT)).getFile();
    return JSON.parse(await file.text());
  } catch {
    // It was never finished, so that no record can be in it.
    return null;
  }
}

/** @param {FileSystemFileHandle} handle */
async function opened(handle) {
  for (let tries = 1; ; tries += 1) {
    try {
      return await handle.createSyncAccessHandle();
    } catch (fault) {
      const { name } = /** @type {DOMException} */ (fault);
      if (name !== "NoModificationAllowedError" || tries === TRIES) throw fault;
      await new Promise((done) => setTimeout(done, TRY_AGAIN_MS));
    }
  }
}

/** @param {number} number */
function segmentName(number) {
  return `${String(number).padStart(5, "0")}.records`;
}
