// What is heard on the ear page: played, paused, by sentences, at a speed that keeps the pitch. The
// place is shown in words and on the page of type. Wires the player and the section of listening.

import {
  clockOf,
  pieceAt,
  sentenceBack,
  sentenceOn,
  speedBeside,
} from "../core/places_heard.js";
import { EAR } from "../texts/ear.js";

const SPEED_KEPT = "quietleaf:speed";

export class HeardSound {
  /** @type {{ink: Element, startS: number, fromS: number, toS: number}[]} */ #pieces = [];
  /** @type {Element | null} */ #present = null;
  /** @type {number | null} where playing stops by itself */ #untilS = null;
  #clip = new Audio();

  /**
   * @param {HTMLAudioElement} player
   * @param {HTMLElement} section
   * @param {(words: string) => void} tell
   */
  constructor(player, section, tell) {
    this.player = player;
    this.section = section;
    this.tell = tell;
    player.controls = false;
    player.preservesPitch = this.#clip.preservesPitch = true;
    section.hidden = false;
    const kept = localStorage.getItem(SPEED_KEPT);
    if (kept !== null && this.#speeds().includes(kept)) this.#speed.value = kept;
    this.#setSpeed();
    this.#speed.addEventListener("change", () => this.#setSpeed());
    this.part("play").addEventListener("click", () => this.toggle());
    this.part("back").addEventListener("click", () => this.back());
    this.part("on").addEventListener("click", () => this.on());
    player.addEventListener("timeupdate", () => this.#moved());
    player.addEventListener("seeked", () => this.#moved());
    for (const event of ["play", "pause", "ended"]) {
      player.addEventListener(event, () => this.#showState());
    }
    player.addEventListener("play", () => this.#clip.pause());
  }

  /** The page of type was set anew. @param {ParentNode} page */
  follow(page) {
    this.#pieces = [...page.querySelectorAll(".run")].map((ink) => ({
      ink,
      startS: Number(ink.getAttribute("data-start")),
      fromS: Number(ink.getAttribute("data-from")),
      toS: Number(ink.getAttribute("data-to")),
    }));
    this.#present = null;
    this.#moved();
  }

  /**
   * What is heard became another while the page was open: nothing is cleared that is not played.
   *
   * @param {HTMLElement | null} player As the page has it now.
   */
  becomes(player) {
    if (player === null || player.dataset.heard === this.player.dataset.heard) return false;
    this.hush();
    this.#untilS = null;
    this.player.dataset.heard = player.dataset.heard;
    this.player.src = player.getAttribute("src") ?? "";
    return true;
  }

  /** The ink that stands for a range. @param {number} fromS @param {number} toS */
  inkOf(fromS, toS) {
    return this.#pieces
      .filter((piece) => piece.fromS <= toS && piece.toS > fromS)
      .map(({ ink }) => ink);
  }

  get placeS() {
    return this.player.currentTime;
  }

  toggle() {
    this.#untilS = null;
    if (this.player.paused) void this.#play();
    else this.player.pause();
  }

  /** @param {number} fromS @param {number | null} untilS Where it stops; null plays on. */
  playFrom(fromS, untilS = null) {
    this.player.currentTime = fromS;
    this.#untilS = untilS;
    void this.#play();
  }

  back() {
    this.player.currentTime = sentenceBack(this.#pieces, this.placeS);
    this.#untilS = null;
  }

  on() {
    const nextS = sentenceOn(this.#pieces, this.placeS);
    if (nextS !== null) this.player.currentTime = nextS;
    this.#untilS = null;
  }

  /** @param {1 | -1} step */
  changeSpeed(step) {
    this.#speed.value = speedBeside(this.#speeds(), this.#speed.value, step);
    this.#setSpeed();
    this.tell(EAR.speed(this.#speed.value));
  }

  /** Play a sound that was made for one place. @param {string} address */
  async playClip(address) {
    this.player.pause();
    this.#clip.src = address;
    this.#clip.playbackRate = Number(this.#speed.value);
    try {
      await this.#clip.play();
    } catch {
      if (this.#clip.error !== null) this.tell(EAR.noSound);
    }
  }

  hush() {
    this.player.pause();
    this.#clip.pause();
  }

  /** @param {string} id */
  part(id) {
    return /** @type {HTMLElement} */ (this.section.querySelector(`#${id}`));
  }

  async #play() {
    try {
      await this.player.play();
    } catch (refusal) {
      // A browser may refuse to play; the main control stands ready then, one key from playing.
      // That a pause came first is no refusal.
      if (/** @type {Error} */ (refusal).name === "NotAllowedError") this.part("play").focus();
    }
  }

  get #speed() {
    return /** @type {HTMLSelectElement} */ (this.part("speed"));
  }

  #speeds() {
    return [...this.#speed.options].map(({ value }) => value);
  }

  #setSpeed() {
    const speed = this.#speed.value;
    this.player.playbackRate = this.player.defaultPlaybackRate = Number(speed);
    localStorage.setItem(SPEED_KEPT, speed);
  }

  #showState() {
    const words = this.part("play").dataset[this.player.paused ? "play" : "pause"] ?? "";
    this.part("play-word").textContent = words;
  }

  #moved() {
    const atS = this.placeS;
    if (this.#untilS !== null && atS >= this.#untilS) {
      this.#untilS = null;
      this.player.pause();
    }
    this.part("place").textContent = clockOf(atS);
    const ink = this.#pieces[pieceAt(this.#pieces, atS)]?.ink ?? null;
    if (ink === this.#present) return;
    this.#present?.classList.remove("present");
    ink?.classList.add("present");
    this.#present = ink;
    const title = ink?.closest(".article")?.querySelector("h3")?.textContent ?? "";
    this.part("place-title").textContent = title;
  }
}
