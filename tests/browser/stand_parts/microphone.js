export async function openMicrophone() {
  const refused = /** @type {any} */ (window).microphoneRefused;
  if (refused !== undefined) throw new Error(refused);
  return { track: { stop() {} }, side: "left" };
}
