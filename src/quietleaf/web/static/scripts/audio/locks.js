// Locks between the tabs of one browser: one of them records a reading, one sends a journal.

/**
 * Take a lock.
 * @param {string} name
 * @param {object} how
 * @param {number} [how.waitMs] so long it is waited for, else for ever
 * @param {boolean} [how.steal] take it from whoever has it
 * @param {() => void} [how.onLost] somebody took it
 * @returns {Promise<(() => void) | null>} lets go of it; null if it could not be had in time
 */
export function takeLock(name, { waitMs, steal = false, onLost } = {}) {
  return new Promise((done, failed) => {
    /** @type {LockOptions} */
    const options = steal ? { steal } : {};
    if (waitMs !== undefined && !steal) options.signal = AbortSignal.timeout(waitMs);
    let isHeld = false;
    navigator.locks
      .request(name, options, () => {
        isHeld = true;
        return new Promise((letGo) => done(() => letGo(undefined)));
      })
      .catch((fault) => {
        if (isHeld) onLost?.();
        else if (waitMs !== undefined) done(null);
        else failed(fault);
      });
  });
}
