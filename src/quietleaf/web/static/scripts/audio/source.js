// Where sound comes from, block by block: a track's stream, or the fallback worklet's port.

/**
 * @typedef {object} SourceBlock
 * @property {Float32Array[]} channels
 * @property {number} rate
 * @property {number | null} stampUs
 */

/** @typedef {{stop: () => void}} Source */

/**
 * Read a track's stream until it ends or is stopped.
 * @param {ReadableStream<AudioData>} readable
 * @param {(block: SourceBlock) => void} take
 * @param {() => void} ended
 * @returns {Source}
 */
export function readTrack(readable, take, ended) {
  const reader = readable.getReader();
  let isStopped = false;
  const read = async () => {
    for (;;) {
      const { value, done } = await reader.read();
      if (isStopped) value?.close();
      if (done || isStopped) return;
      const { numberOfFrames, sampleRate, timestamp } = value;
      const channels = Array.from({ length: value.numberOfChannels }, (_, planeIndex) => {
        const samples = new Float32Array(numberOfFrames);
        value.copyTo(samples, { planeIndex, format: "f32-planar" });
        return samples;
      });
      // The browser has few of them: one that is not given back stops the microphone.
      value.close();
      take({ channels, rate: sampleRate, stampUs: timestamp });
    }
  };
  const end = () => {
    if (!isStopped) ended();
  };
  read().then(end, end);
  return {
    stop: () => {
      isStopped = true;
      // It may have ended already.
      reader.cancel().catch(() => {});
    },
  };
}

/**
 * Listen to the fallback worklet.
 * @param {MessagePort} port
 * @param {number} rate
 * @param {(block: SourceBlock) => void} take
 * @returns {Source}
 */
export function readPort(port, rate, take) {
  port.onmessage = ({ data }) => {
    /** @type {import("../messages.js").FromWorklet} */
    const { channels } = data;
    take({ channels, rate, stampUs: null });
  };
  return { stop: () => port.close() };
}
