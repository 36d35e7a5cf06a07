// Today's page after the desk was told something: it says when the desk has seen it.

const ASK_MS = 3000;

const told = /** @type {HTMLElement} */ (document.getElementById("told"));
const messageId = told.dataset.message ?? "";

async function ask() {
  try {
    const answer = await fetch(`/stand/message/${encodeURIComponent(messageId)}`, {
      cache: "no-store",
    });
    if (!answer.ok || (await answer.json()).seenAt === null) return;
  } catch {
    return; // Away for a moment: it is asked again.
  }
  clearInterval(asking);
  told.textContent = `${told.textContent} ${told.dataset.seen ?? ""}`;
}

const asking = setInterval(() => void ask(), ASK_MS);
