// How far listening has got, asked for until it is over.

const ASK_MS = 1000;

/**
 * Follow a hearing on a page that has the elements ``listening``, ``verdict``, ``reasons`` and
 * ``progress``; where there is none to follow, do nothing.
 */
export function followListening() {
  const listening = document.getElementById("listening");
  const verdict = document.getElementById("verdict");
  const reasons = document.getElementById("reasons");
  const progress = /** @type {HTMLProgressElement | null} */ (document.getElementById("progress"));
  const address = listening?.dataset.ask;
  if (!listening || !verdict || !reasons || !progress || address === undefined) return;
  const timer = setInterval(async () => {
    let told;
    try {
      const answer = await fetch(address, { cache: "no-store" });
      if (!answer.ok) return;
      told = await answer.json();
    } catch {
      return; // the station is away for a moment; it is asked again
    }
    progress.value = told.done;
    if (!told.over) return;
    clearInterval(timer);
    verdict.textContent = told.sentence;
    reasons.replaceChildren(
      ...told.reasons.map((/** @type {string} */ reason) => {
        const line = document.createElement("li");
        line.textContent = reason;
        return line;
      }),
    );
    listening.remove();
  }, ASK_MS);
}
