/**
 * The live day: every few seconds the board is asked for, and what changed takes the place of what
 * was there. What did not change is not touched, so that focus and reading position stay.
 */

const EVERY_MS = 4_000

/** @type {string} */
let tag = ''

/** @param {Element} board */
async function look(board) {
  const address = board.getAttribute('data-address')
  if (address === null || document.hidden) return
  const answer = await fetch(address, {
    cache: 'no-store',
    headers: tag === '' ? {} : { 'If-None-Match': tag },
  })
  if (answer.status !== 200) return
  if (answer.headers.get('x-quietleaf-day') !== board.getAttribute('data-day')) {
    location.reload()
    return
  }
  const html = await answer.text()
  tag = answer.headers.get('etag') ?? ''
  const fresh = document.createElement('template')
  fresh.innerHTML = html
  show(board, fresh.content)
}

/**
 * @param {Element} board
 * @param {DocumentFragment} fresh
 */
function show(board, fresh) {
  const before = news(board)
  const focused = document.activeElement?.closest('#board *') ?? null
  const held = underTheHand(board, focused)
  const heldAt = held?.getBoundingClientRect().top ?? 0
  renew(board, fresh)
  if (focused !== null && !focused.isConnected) refocus(focused)
  keepInPlace(held, heldAt)
  const told = [...news(board)].filter((words) => !before.has(words))
  const status = document.querySelector('#news')
  if (status !== null && told.length > 0) status.textContent = told.join(' ')
}

/**
 * Makes the children of one part those of another, keeping each that is the same; a part that is
 * marked for it is renewed child by child.
 * @param {Element} old
 * @param {Element | DocumentFragment} fresh
 */
function renew(old, fresh) {
  const kept = new Map([...old.children].map((part) => [part.id, part]))
  const parts = [...fresh.children].map((part) => {
    const there = kept.get(part.id)
    if (there === undefined || part.id === '') return part
    if (there.isEqualNode(part)) return there
    if (!part.hasAttribute('data-renewed')) return part
    for (const name of there.getAttributeNames()) {
      if (!part.hasAttribute(name)) there.removeAttribute(name)
    }
    for (const { name, value } of part.attributes) there.setAttribute(name, value)
    renew(there, part)
    return there
  })
  const staying = new Set(parts)
  for (const part of [...old.children]) if (!staying.has(part)) part.remove()
  parts.forEach((part, index) => {
    if (old.children[index] !== part) old.insertBefore(part, old.children[index] ?? null)
  })
}

/**
 * Gives the part of the board that somebody points at, or has the focus in.
 * @param {Element} board
 * @param {Element | null} focused
 */
function underTheHand(board, focused) {
  const pointed = [...board.querySelectorAll('[id]:hover')].at(-1)
  return pointed ?? focused?.closest('[id]') ?? null
}

/**
 * Moves the page so that what somebody is about to press stays where it is.
 * @param {Element | null} held
 * @param {number} top where it was
 */
function keepInPlace(held, top) {
  if (held === null) return
  const there = held.isConnected ? held : document.getElementById(held.id)
  if (there !== null) scrollBy(0, there.getBoundingClientRect().top - top)
}

/**
 * Finds again what had the focus before it was replaced.
 * @param {Element} gone
 */
function refocus(gone) {
  const same =
    gone.id === ''
      ? [...document.querySelectorAll('#board a')].find(
          (link) => link.getAttribute('href') === gone.getAttribute('href'),
        )
      : document.getElementById(gone.id)
  const next = same ?? document.querySelector('#told button') ?? document.querySelector('#page')
  if (next instanceof HTMLElement) next.focus({ preventScroll: true })
}

/**
 * @param {Element} board
 * @returns {Set<string>} what there is to tell
 */
function news(board) {
  const parts = [...board.querySelectorAll('[data-news]')]
  return new Set(parts.map((part) => part.getAttribute('data-news') ?? ''))
}

const board = document.querySelector('#board')
if (board !== null) {
  const again = () => {
    // A station that does not answer is asked again; what is shown stays as it is.
    look(board).catch(() => undefined)
  }
  setInterval(again, EVERY_MS)
  document.addEventListener('visibilitychange', again)
}
