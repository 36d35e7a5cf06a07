// The shape of every message between page, worker and station. Types alone; nothing runs here.

/** @typedef {"left" | "right"} Side */
/** @typedef {"opening" | "closing"} Which */
/** @typedef {"well" | "away" | "busy" | "superseded" | "trouble" | "refused" | "late"} Station */

/**
 * How far a journal is on the station's disk: so many of its entries are in the ledger, and so many
 * samples of the take that the last *rolled* among them began.
 * @typedef {{entries: number, samples: number}} Progress
 */

/**
 * What is known of a journal beside its records.
 * @typedef {{place: string, pass: string, wire: string, made: string}} About
 */

// Entries: what happened, in the journal between the sound.

/**
 * @typedef {{what: "rolled", rate: number, origin: string, readFor?: number, fresh?: boolean}
 *   | {what: "sealed", samples: number}
 *   | {what: "article", sample: number, title: string}
 *   | {what: "words", which: Which, sample: number}
 *   | {what: "missing", sample: number, samples: number, reason: string}
 *   | import("./core/again.js").AgainEntry} Entry
 */

// On the wire, beside the records themselves.

/**
 * @typedef {{kind: "hello", pass: string, journal: string, takeOver: boolean}
 *   | {kind: "ping", id: number}} ToStation
 */

/**
 * @typedef {{kind: "welcome", entries: number, samples: number, late: boolean}
 *   | {kind: "kept", entries: number, samples: number}
 *   | {kind: "resend", entries: number, samples: number}
 *   | {kind: "pong", id: number}
 *   | {kind: "busy", sentence: string}
 *   | {kind: "superseded", sentence: string}
 *   | {kind: "trouble", code: string, sentence: string}
 *   | {kind: "refused", code: string, sentence: string}} FromStation
 */

// From the page to its worker. What has an `id` is answered by `done` or `failed` with that id.

/** @typedef {{takeIndex: number, start: number, stop: number}} Place Half-open, samples of a take. */

/**
 * What is asked of the worker; the answer to each stands in `Answers`.
 * @typedef {{kind: "open", pass: string | null, place: string, wire: string, origin: string,
 *       leadInS: number}
 *   | {kind: "listen", readable: ReadableStream<AudioData>, side: Side | null, origin: string}
 *   | {kind: "listen-fallback", port: MessagePort, rate: number, side: Side | null, origin: string}
 *   | {kind: "roll"}
 *   | {kind: "hold", broken: boolean}
 *   | {kind: "article", title: string}
 *   | {kind: "words", which: Which}
 *   | {kind: "again", at: import("./core/again.js").At | null}
 *   | {kind: "read-again-for", readFor: number, beforeS: number}
 *   | {kind: "again-led"}
 *   | {kind: "again-undo"}
 *   | {kind: "recent", place: Place}
 *   | {kind: "take-over", pass: string}
 *   | {kind: "close"}} Asked
 */

/** @typedef {Asked & {id: number}} ToWorker */

/**
 * @typedef {object} Answers
 * @property {{}} open
 * @property {{rate: number, sides: Side[], side: Side}} listen
 * @property {{rate: number, sides: Side[], side: Side}} listen-fallback
 * @property {{take: number}} roll
 * @property {{samples: number}} hold
 * @property {{}} article
 * @property {{}} words
 * @property {Pressed} again
 * @property {{}} read-again-for
 * @property {{}} again-led
 * @property {{undone: boolean}} again-undo
 * @property {{samples: Float32Array<ArrayBuffer>, rate: number}} recent
 * @property {{}} take-over
 * @property {{}} close
 */

/**
 * What a press of *again* gives.
 * @typedef {object} Pressed
 * @property {{samples: Float32Array<ArrayBuffer>, rate: number}} leadIn what is to be played
 * @property {number} beforeS so much of what comes before all that was recorded is played first
 * @property {number} backS where the sentence begins, on the clock that runs while rolling
 * @property {boolean} further one sentence further back than the press before
 * @property {boolean} known whether all of the lead-in was still in memory
 */

/**
 * What has become of the programme through *again*; seconds of the clock that runs while rolling.
 * @typedef {object} AgainSeen
 * @property {number[]} starts sentence starts of the last half minute
 * @property {{startS: number, stopS: number}[]} outside what has left the programme
 * @property {number} secondsRead what this page recorded of the programme
 * @property {boolean} leading a lead-in is playing
 * @property {boolean} canUndo
 */

/**
 * @typedef {object} StandingDetail
 * @property {Station} station
 * @property {string} sentence the station's own, where it gave one
 * @property {number} behindS sound of this reading that the station has not confirmed
 * @property {number} keptS sound recorded here that it has
 * @property {number} queuedBytes of this reading that still have to go up
 */

/**
 * What the worker says by itself.
 * @typedef {{kind: "done", id: number, answer: unknown}
 *   | {kind: "failed", id: number, sentence: string}
 *   | {kind: "standing", detail: StandingDetail}
 *   | {kind: "heard", snapshot: import("./core/live.js").LiveSnapshot, again: AgainSeen,
 *       takeSamples: number, readingSamples: number}
 *   | {kind: "stopped", takeSamples: number, readingSamples: number}
 *   | {kind: "missing", missingS: number, reason: string}
 *   | {kind: "little-room", sentence: string}
 *   | {kind: "ended"}} FromWorker
 */

/** What the fallback worklet sends to the worker. @typedef {{channels: Float32Array[]}} FromWorklet */

export {};
