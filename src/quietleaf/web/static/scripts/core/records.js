// Records of a journal: the same bytes in the browser's file, on the wire and at the station.
//
// A header of 32 bytes, little-endian, and the payload: sound (24-bit mono) or an entry (JSON).

export const SOUND = 1;
export const ENTRY = 2;
export const HEADER_BYTES = 32;
export const BYTES_A_SAMPLE = 3;
/** Of sound in one record: 43 to 46 ms. */
export const CHUNK_SAMPLES = 2048;
export const LARGEST_ENTRY_BYTES = 16_384;
export const LARGEST_MESSAGE_BYTES = 262_144;

const MARK = 0x6661656c; // "leaf", read little-endian
const VERSION = 1;
const LARGEST_SOUND_BYTES = 65_536 * BYTES_A_SAMPLE;
const STEPS = 8_388_608;
/** Adding and taking away 1.5 x 2^52 rounds to the nearest whole number, halves to even. */
const ROUND = 6_755_399_441_055_744;
const TABLE = crcTable();

/**
 * What a header says of its record, and where the record lies.
 * @typedef {object} RecordSeen
 * @property {1 | 2} kind
 * @property {number} number of the record in its journal
 * @property {number} entries how many entries the journal has before it
 * @property {number} first of sound: index of its first sample in its take
 * @property {number} samples 0 of an entry
 * @property {number} at where it begins in its file
 * @property {number} size with its header
 */

/**
 * CRC-32 as in zlib and PNG (ISO-HDLC).
 * @param {Uint8Array} bytes
 * @param {number} before the checksum of what came before
 * @returns {number}
 */
export function crc32(bytes, before = 0) {
  let crc = ~before;
  for (let index = 0; index < bytes.length; index += 1) {
    crc =
      /** @type {number} */ (TABLE[(crc ^ /** @type {number} */ (bytes[index])) & 255]) ^ (crc >>> 8);
  }
  return ~crc >>> 0;
}

/**
 * Write a record.
 * @param {{kind: 1 | 2, number: number, entries: number, first: number}} head
 * @param {Uint8Array} payload
 * @returns {Uint8Array<ArrayBuffer>}
 */
export function recordBytes({ kind, number, entries, first }, payload) {
  const bytes = new Uint8Array(HEADER_BYTES + payload.length);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, MARK, true);
  view.setUint8(4, VERSION);
  view.setUint8(5, kind);
  view.setUint32(8, number, true);
  view.setUint32(12, entries, true);
  view.setBigUint64(16, BigInt(first), true);
  view.setUint32(24, payload.length, true);
  bytes.set(payload, HEADER_BYTES);
  view.setUint32(28, crc32(payload, crc32(bytes.subarray(0, 28))), true);
  return bytes;
}

/**
 * Read the record at a place of a file.
 * @param {Uint8Array} bytes
 * @param {number} at
 * @returns {RecordSeen | null} null where none is whole: the file ends here, or is torn
 */
export function recordAt(bytes, at) {
  if (bytes.length - at < HEADER_BYTES) return null;
  const view = new DataView(bytes.buffer, bytes.byteOffset + at);
  const kind = view.getUint8(5);
  const size = view.getUint32(24, true);
  if (view.getUint32(0, true) !== MARK || view.getUint8(4) !== VERSION) return null;
  if (kind !== SOUND && kind !== ENTRY) return null;
  if (size > (kind === SOUND ? LARGEST_SOUND_BYTES : LARGEST_ENTRY_BYTES)) return null;
  if (bytes.length - at - HEADER_BYTES < size) return null;
  const start = at + HEADER_BYTES;
  const crc = crc32(bytes.subarray(start, start + size), crc32(bytes.subarray(at, at + 28)));
  if (view.getUint32(28, true) !== crc) return null;
  return {
    kind,
    number: view.getUint32(8, true),
    entries: view.getUint32(12, true),
    first: Number(view.getBigUint64(16, true)),
    samples: kind === SOUND ? size / BYTES_A_SAMPLE : 0,
    at,
    size: HEADER_BYTES + size,
  };
}

/**
 * Read an entry's payload.
 * @param {Uint8Array} bytes of a file
 * @param {RecordSeen} record
 * @returns {import("../messages.js").Entry}
 */
export function entryAt(bytes, record) {
  const payload = bytes.subarray(record.at + HEADER_BYTES, record.at + record.size);
  return JSON.parse(new TextDecoder().decode(payload));
}

/**
 * @param {import("../messages.js").Entry} entry
 * @returns {Uint8Array}
 */
export function entryBytes(entry) {
  return new TextEncoder().encode(JSON.stringify(entry));
}

/**
 * Sound as 24-bit whole numbers, to the nearest step; what is past full scale is held at it.
 * @param {Float32Array} samples full scale 1; what is no number becomes 0
 * @returns {Uint8Array}
 */
export function int24Bytes(samples) {
  const bytes = new Uint8Array(BYTES_A_SAMPLE * samples.length);
  for (let index = 0; index < samples.length; index += 1) {
    const scaled = /** @type {number} */ (samples[index]) * STEPS;
    const held = scaled > STEPS - 1 ? STEPS - 1 : scaled < -STEPS ? -STEPS : scaled;
    const step = Number.isNaN(held) ? 0 : held + ROUND - ROUND;
    const place = BYTES_A_SAMPLE * index;
    bytes[place] = step;
    bytes[place + 1] = step >> 8;
    bytes[place + 2] = step >> 16;
  }
  return bytes;
}

/**
 * Say whether the station has a record on its disk.
 * @param {RecordSeen} record
 * @param {import("../messages.js").Progress} kept
 */
export function isKept(record, kept) {
  if (record.entries !== kept.entries) return record.entries < kept.entries;
  return record.kind === SOUND && record.first + record.samples <= kept.samples;
}

/**
 * Say how many records go into one message.
 * @param {readonly RecordSeen[]} records
 * @param {number} from index of the first
 * @returns {{stop: number, size: number}} half-open; at least one, if there is one
 */
export function batchFrom(records, from) {
  let stop = from;
  let size = 0;
  for (; stop < records.length; stop += 1) {
    const next = /** @type {RecordSeen} */ (records[stop]).size;
    if (stop > from && size + next > LARGEST_MESSAGE_BYTES) break;
    size += next;
  }
  return { stop, size };
}

function crcTable() {
  const table = new Int32Array(256);
  for (let index = 0; index < 256; index += 1) {
    let crc = index;
    for (let bit = 0; bit < 8; bit += 1) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1;
    table[index] = crc;
  }
  return table;
}
