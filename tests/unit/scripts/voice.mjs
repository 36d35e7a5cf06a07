// A voice, paper and a room made by formula, from a printed seed: nothing of it is recorded.

/** @param {number} seed */
export function drawn(seed) {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}

/** @param {() => number} draw */
function normal(draw) {
  return Math.sqrt(-2 * Math.log(1 - draw())) * Math.cos(2 * Math.PI * draw());
}

const rms = (level) => 10 ** (level / 20);

/** A sound in the making: what was laid is known by its place. */
export class Made {
  constructor({ rate = 48000, seed = 1, roomDbov = -65 } = {}) {
    this.rate = rate;
    this.draw = drawn(seed);
    this.roomDbov = roomDbov;
    this.parts = [];
    this.size = 0;
  }

  #lay(sound) {
    const start = this.size;
    this.parts.push(sound);
    this.size += sound.length;
    return [start, this.size];
  }

  pause(lengthS) {
    return this.#lay(new Float64Array(Math.round(lengthS * this.rate)));
  }

  /** Harmonics of 120 Hz, stronger below 900 Hz, in syllables of 0.2 s with dips of 25 dB. */
  speech(lengthS, levelDbov = -26) {
    const sound = new Float64Array(Math.round(lengthS * this.rate));
    let phase = 0;
    for (let index = 0; index < sound.length; index += 1) {
      const timeS = index / this.rate;
      phase += (2 * Math.PI * (115 + 12 * Math.sin(2 * Math.PI * 0.7 * timeS))) / this.rate;
      let value = 0;
      for (let harmonic = 1; harmonic <= 14; harmonic += 1) {
        value += Math.cos(harmonic * phase + harmonic * harmonic) / (1 + (harmonic / 7) ** 4);
      }
      const dip = 0.5 - 0.5 * Math.cos((2 * Math.PI * timeS) / 0.2);
      sound[index] = value * Math.max(0.056, dip);
    }
    return this.#lay(scaled(sound, levelDbov));
  }

  /** Paper: noise that swells and fades. */
  rustle(lengthS, levelDbov = -30) {
    const sound = new Float64Array(Math.round(lengthS * this.rate));
    for (let index = 0; index < sound.length; index += 1) {
      sound[index] = normal(this.draw) * Math.sqrt(Math.sin((Math.PI * index) / sound.length));
    }
    return this.#lay(scaled(sound, levelDbov));
  }

  /** A key: a burst of 2 ms that rings at 2 kHz. */
  click(peak = 0.3) {
    const sound = new Float64Array(Math.round(0.1 * this.rate));
    for (let index = 0; index < sound.length; index += 1) {
      const timeS = index / this.rate;
      sound[index] = peak * Math.exp(-timeS / 0.004) * Math.sin(2 * Math.PI * 2000 * timeS);
    }
    return this.#lay(sound);
  }

  tone(lengthS, hz, amplitude) {
    const sound = new Float64Array(Math.round(lengthS * this.rate));
    for (let index = 0; index < sound.length; index += 1) {
      sound[index] = amplitude * Math.sin((2 * Math.PI * hz * index) / this.rate);
    }
    return this.#lay(sound);
  }

  samples() {
    const whole = new Float32Array(this.size);
    const room = rms(this.roomDbov);
    let place = 0;
    for (const part of this.parts) {
      for (const value of part) {
        whole[place] = value + (room > 0 ? room * normal(this.draw) : 0);
        place += 1;
      }
    }
    return whole;
  }
}

function scaled(sound, levelDbov) {
  let power = 0;
  for (const value of sound) power += value * value;
  const gain = rms(levelDbov) / Math.sqrt(power / sound.length);
  return sound.map((value) => value * gain);
}
