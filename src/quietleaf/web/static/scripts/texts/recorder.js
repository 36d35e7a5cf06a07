// Every word that the recorder says by itself; another language is another module.

export const OTHER_TAB =
  "This reading is open in another tab or window of this browser. Go on there, or take it over here.";
export const TAKEN_BY_TAB =
  "This reading was taken over by another tab or window of this browser. What you recorded here is safe.";
export const GONE = "The microphone went away. Put its plug in again, then press “Try again”.";
export const NO_MICROPHONE = "No microphone is listened to yet. Choose it first, then begin.";
export const NOT_ROLLING = "A place can be marked only while you are recording. Begin first.";
export const NO_SOUND = "The microphone gave no sound within ten seconds. Look at its plug and its switch.";
export const NOT_NOW = "This reading cannot be recorded from here just now.";
export const LATE =
  "This reading went on elsewhere. Load this page again to go on with it here; what you recorded is kept.";
export const NO_PASS = "The station does not let this page take the reading over. Come in again by the booth’s page or your link.";
export const LITTLE_ROOM =
  "This computer has little room left for what you record. It is kept at the station all the same; tell the desk.";
export const FALLBACK =
  "This browser records by a way that can lose short moments of sound. A Chromium-based browser records exactly.";
/** Stands in the take. */
export const FALLBACK_ORIGIN = "through the audio graph, which can lose single blocks";
