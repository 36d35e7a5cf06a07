// What the room check works out without a browser: its test sound, and what it sends.

const SWEEP_S = 1.5;
const SWEEP_FROM_HZ = 300;
const SWEEP_TO_HZ = 3000;
const SWEEP_FADE_S = 0.05;
const SWEEP_PEAK = 0.1;

/**
 * The sound that shows whether the microphone hears what is played: a quiet rising tone. The
 * station looks for just this (listening/room_leak.py).
 * @param {number} rate
 * @returns {Float32Array<ArrayBuffer>}
 */
export function testSweep(rate) {
  const sweep = new Float32Array(Math.round(SWEEP_S * rate));
  const ratio = Math.log(SWEEP_TO_HZ / SWEEP_FROM_HZ);
  const scale = (2 * Math.PI * SWEEP_FROM_HZ * SWEEP_S) / ratio;
  for (let i = 0; i < sweep.length; i += 1) {
    const timeS = i / rate;
    const edge = Math.min(1, Math.min(timeS, SWEEP_S - timeS) / SWEEP_FADE_S);
    const fade = 0.5 * (1 - Math.cos(Math.PI * edge));
    sweep[i] = SWEEP_PEAK * fade * Math.sin(scale * Math.expm1((timeS * ratio) / SWEEP_S));
  }
  return sweep;
}

/** @typedef {"sentence" | "still" | "plosives" | "played"} PartName */
/** @typedef {Float32Array[]} Channels the samples of each channel, all of one length */

const PARTS = /** @type {const} */ (["sentence", "still", "plosives", "played"]);

/**
 * What is sent to the station: size of the header, header, samples; see web/room_pages.py. Where
 * both channels are the same to the last bit, one goes.
 * @param {{rate: number, microphone: string, parts: Partial<Record<PartName, Channels>>}} sound
 * @returns {ArrayBuffer}
 */
export function packed({ rate, microphone, parts }) {
  const there = PARTS.map((name) => parts[name] ?? []);
  const most = Math.min(2, ...there.filter((part) => part.length > 0).map((part) => part.length));
  const channels = most === 2 && there.every(isSame) ? 1 : most;
  const lengths = Object.fromEntries(
    PARTS.map((name, index) => [name, there[index]?.[0]?.length ?? 0]),
  );
  const header = JSON.stringify({ rate, channels, microphone, parts: lengths });
  // Spaces up to a multiple of four: floats lie on such places.
  const head = new TextEncoder().encode(header);
  const size = Math.ceil(head.length / 4) * 4;
  const total = there.reduce((sum, part) => sum + channels * (part[0]?.length ?? 0), 0);
  const body = new ArrayBuffer(4 + size + 4 * total);
  new DataView(body).setUint32(0, size, true);
  new Uint8Array(body, 4, size).fill(0x20).set(head);
  const samples = new DataView(body, 4 + size);
  let at = 0;
  for (const part of there) {
    for (const channel of part.slice(0, channels)) {
      for (const sample of channel) {
        samples.setFloat32(at, sample, true);
        at += 4;
      }
    }
  }
  return body;
}

/** @param {Channels} part */
function isSame(part) {
  const [left, right] = part;
  return !left || !right || left.every((sample, i) => sample === right[i]);
}

/**
 * @typedef {object} LastCheck what this browser keeps of the last check at this booth
 * @property {string} at ISO
 * @property {string} sentence
 * @property {string} microphone its name
 */

/**
 * Reads what was kept; what is none of ours is nothing.
 * @param {string | null} text
 * @returns {LastCheck | null}
 */
export function lastCheckOf(text) {
  try {
    const { at, sentence, microphone } = JSON.parse(text ?? "");
    if (typeof at !== "string" || Number.isNaN(Date.parse(at))) return null;
    if (typeof sentence !== "string" || typeof microphone !== "string") return null;
    return { at, sentence, microphone };
  } catch {
    return null;
  }
}
