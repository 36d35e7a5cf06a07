// What a browser keeps of practice readings, in its private file storage, is removed.

const JOURNALS = "journals";
const PRACTICE = "practice:";

/**
 * Remove every practice journal that no open page is recording into.
 * @returns {Promise<number>} how many went
 */
export async function forgetPractice() {
  /** @type {FileSystemDirectoryHandle} */
  let journals;
  try {
    journals = await (await navigator.storage.getDirectory()).getDirectoryHandle(JOURNALS);
  } catch {
    return 0; // nothing was ever recorded in this browser
  }
  const locks = await navigator.locks.query();
  const held = new Set((locks.held ?? []).map((lock) => lock.name));
  let gone = 0;
  for await (const [name, folder] of journals.entries()) {
    if (folder.kind !== "directory") continue;
    const place = await placeOf(/** @type {FileSystemDirectoryHandle} */ (folder));
    const isInUse = held.has(`quietleaf:${place}`) || held.has(`quietleaf:journal:${name}`);
    if (!place.startsWith(PRACTICE) || isInUse) continue;
    await journals.removeEntry(name, { recursive: true });
    gone += 1;
  }
  return gone;
}

/**
 * @param {FileSystemDirectoryHandle} journal
 * @returns {Promise<string>} empty where nothing says what it is for
 */
async function placeOf(journal) {
  try {
    const about = await (await journal.getFileHandle("about.json")).getFile();
    const place = JSON.parse(await about.text()).place;
    return typeof place === "string" ? place : "";
  } catch {
    return "";
  }
}
