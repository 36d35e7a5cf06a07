// Owns what a page must stop: listeners, timers, sound. One owner stops all of it.

export class Owner {
  #ended = new AbortController();
  /** @type {(() => void)[]} */ #stoppers = [];

  /** Whether all was stopped. */
  get stopped() {
    return this.#ended.signal.aborted;
  }

  /**
   * Listen until all is stopped.
   *
   * @param {EventTarget} target
   * @param {string} name
   * @param {(event: any) => void} listener
   */
  listen(target, name, listener) {
    target.addEventListener(name, listener, { signal: this.#ended.signal });
  }

  /**
   * Do something every so often until all is stopped, or until what is given back is called.
   *
   * @param {number} everyMs
   * @param {() => void} step
   */
  every(everyMs, step) {
    const timer = setInterval(step, everyMs);
    const stop = () => clearInterval(timer);
    this.owns(stop);
    return stop;
  }

  /** @param {() => void} stop Called once when all is stopped. */
  owns(stop) {
    if (this.stopped) stop();
    else this.#stoppers.push(stop);
  }

  stop() {
    if (this.stopped) return;
    this.#ended.abort();
    for (const stop of this.#stoppers.splice(0)) stop();
  }
}
