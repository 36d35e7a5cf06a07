// On every page of a practice: whoever leaves has it deleted. Going to the next page of it counts
// as leaving for a moment; that page says that somebody is here.

const LEAVE = "/practice/leave";
const HERE = "/practice/here";

function sayHere() {
  void fetch(HERE, { method: "POST", body: new URLSearchParams() }).catch(() => {
    // The station is away for a moment; nothing was going to be deleted by it then.
  });
}

window.addEventListener("pagehide", () => {
  navigator.sendBeacon(LEAVE, new URLSearchParams({ beacon: "yes" }));
});
window.addEventListener("pageshow", (event) => {
  // Back from the browser's own memory of pages.
  if (event.persisted) sayHere();
});
sayHere();
