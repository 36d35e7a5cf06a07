// In place of the microphone; a test says what it does by what it puts on the window.

/** @type {any} */
const told = window;

export async function openMicrophone() {
  if (told.microphoneRefused !== undefined) throw new Error(told.microphoneRefused);
  const track = { label: "A microphone", stop() {} };
  return { track, settings: { deviceId: "m1" }, side: "left" };
}

/**
 * @param {unknown} _track
 * @param {string} _deviceId
 * @param {(code: string) => void} onGone
 */
export function watchMicrophone(_track, _deviceId, onGone) {
  told.microphoneGone = onGone;
  return () => {};
}
