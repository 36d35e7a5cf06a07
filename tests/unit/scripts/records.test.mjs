import assert from "node:assert/strict";
import { test } from "node:test";
import { crc32 as zlibCrc32 } from "node:zlib";
import {
  batchFrom,
  CHUNK_SAMPLES,
  crc32,
  ENTRY,
  entryAt,
  entryBytes,
  HEADER_BYTES,
  int24Bytes,
  isKept,
  LARGEST_MESSAGE_BYTES,
  recordAt,
  recordBytes,
  SOUND,
} from "../../../src/quietleaf/web/static/scripts/core/records.js";

const text = new TextEncoder();

/** @param {Uint8Array} bytes */
function numbers(bytes) {
  const found = [];
  for (let at = 0; at < bytes.length; at += 3) {
    found.push((bytes[at] | (bytes[at + 1] << 8) | (bytes[at + 2] << 24 >> 8)));
  }
  return found;
}

test("the checksum is CRC-32/ISO-HDLC: its published check value", () => {
  assert.equal(crc32(text.encode("123456789")), 0xcbf43926);
});

test("the checksum goes on from what came before, as zlib's does", () => {
  const bytes = Uint8Array.from({ length: 999 }, (_, index) => (index * 131) & 255);
  assert.equal(crc32(bytes.subarray(400), crc32(bytes.subarray(0, 400))), crc32(bytes));
  if (zlibCrc32 !== undefined) assert.equal(crc32(bytes), zlibCrc32(bytes));
});

test("a record is what the table of its header says", () => {
  const payload = Uint8Array.of(1, 2, 3, 4, 5, 6);
  const bytes = recordBytes({ kind: SOUND, number: 7, entries: 2, first: 2 ** 33 + 5 }, payload);
  const view = new DataView(bytes.buffer);
  assert.equal(new TextDecoder().decode(bytes.subarray(0, 4)), "leaf");
  assert.deepEqual([...bytes.subarray(4, 8)], [1, 1, 0, 0]);
  assert.equal(view.getUint32(8, true), 7);
  assert.equal(view.getUint32(12, true), 2);
  assert.equal(view.getBigUint64(16, true), 2n ** 33n + 5n);
  assert.equal(view.getUint32(24, true), 6);
  const checked = new Uint8Array([...bytes.subarray(0, 28), ...payload]);
  assert.equal(view.getUint32(28, true), crc32(checked));
});

test("a record is read as it was written, and an entry with it", () => {
  const entry = /** @type {const} */ ({ what: "article", sample: 12, title: "Frost – heute" });
  const payload = entryBytes(entry);
  const before = recordBytes({ kind: SOUND, number: 0, entries: 0, first: 0 }, new Uint8Array(3));
  const bytes = new Uint8Array([
    ...before,
    ...recordBytes({ kind: ENTRY, number: 1, entries: 0, first: 0 }, payload),
  ]);
  const record = recordAt(bytes, before.length);
  assert.ok(record);
  assert.deepEqual([record.kind, record.number, record.samples], [ENTRY, 1, 0]);
  assert.deepEqual(entryAt(bytes, record), entry);
});

test("a record that is torn anywhere, or has one wrong bit, is none", () => {
  const payload = Uint8Array.from({ length: 30 }, (_, index) => index);
  const bytes = recordBytes({ kind: SOUND, number: 3, entries: 1, first: 9 }, payload);
  for (let size = 0; size < bytes.length; size += 1) {
    assert.equal(recordAt(bytes.subarray(0, size), 0), null);
  }
  for (let bit = 0; bit < 8 * bytes.length; bit += 1) {
    const wrong = bytes.slice();
    wrong[bit >> 3] ^= 1 << (bit & 7);
    assert.equal(recordAt(wrong, 0), null, `bit ${bit}`);
  }
  assert.equal(recordAt(bytes, 0)?.samples, 10);
});

test("24 bits come out as they went in, halves go to even, too much is held", () => {
  const steps = [0, 1, -1, 8_388_607, -8_388_608, 5_000_001, -77];
  assert.deepEqual(numbers(int24Bytes(Float32Array.from(steps, (step) => step / 8_388_608))), steps);
  const odd = Float32Array.from([0.5, 1.5, -0.5, -2.5, 2.4, -2.6], (step) => step / 8_388_608);
  assert.deepEqual(numbers(int24Bytes(odd)), [0, 2, 0, -2, 2, -3]);
  const much = Float32Array.of(1, 7, Infinity, -1.5, -Infinity, NaN);
  assert.deepEqual(numbers(int24Bytes(much)), [8_388_607, 8_388_607, 8_388_607, -8_388_608, -8_388_608, 0]);
});

test("what is kept: all before an entry, and of the present take what is whole", () => {
  const of = (/** @type {1 | 2} */ kind, /** @type {number} */ entries, first = 0, samples = 0) =>
    ({ kind, entries, first, samples, number: 0, at: 0, size: 0 });
  const kept = { entries: 2, samples: 100 };
  assert.ok(isKept(of(ENTRY, 1), kept));
  assert.ok(isKept(of(SOUND, 1, 900, 50), kept));
  assert.ok(isKept(of(SOUND, 2, 50, 50), kept));
  assert.ok(!isKept(of(SOUND, 2, 51, 50), kept));
  assert.ok(!isKept(of(ENTRY, 2), kept));
  assert.ok(!isKept(of(SOUND, 3, 0, 10), kept));
});

test("a message holds whole records, as many as fit, and at least one", () => {
  const size = HEADER_BYTES + 3 * CHUNK_SAMPLES;
  const records = Array.from({ length: 100 }, (_, number) =>
    ({ kind: SOUND, number, entries: 0, first: 0, samples: CHUNK_SAMPLES, at: 0, size }));
  const { stop, size: all } = batchFrom(records, 10);
  assert.equal(all, (stop - 10) * size);
  assert.ok(all <= LARGEST_MESSAGE_BYTES && all + size > LARGEST_MESSAGE_BYTES);
  assert.deepEqual(batchFrom(records, 99), { stop: 100, size });
  assert.deepEqual(batchFrom(records, 100), { stop: 100, size: 0 });
});
