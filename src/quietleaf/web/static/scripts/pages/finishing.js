import { compareRepairs } from '../parts/compared-repairs.js'

/**
 * Finishing, live: while it is under way the page asks every second how far it has got. What did
 * not change is not touched; a new step is spoken. Without this script the page is looked at again,
 * and each "Hear it" opens the sound at its place.
 */

const EVERY_MS = 1_000

/** @type {string} */
let tag = ''

/**
 * @param {Element} part
 * @returns {Promise<boolean>} whether there is more to come
 */
async function look(part) {
  const address = part.getAttribute('data-address')
  if (address === null) return false
  if (document.hidden) return true
  const answer = await fetch(address, {
    cache: 'no-store',
    headers: tag === '' ? {} : { 'If-None-Match': tag },
  })
  if (answer.redirected) {
    // The session ended: the page itself leads to signing in, and from there back.
    location.reload()
    return false
  }
  if (answer.status !== 200) return answer.status === 304
  tag = answer.headers.get('etag') ?? ''
  const fresh = document.createElement('template')
  fresh.innerHTML = await answer.text()
  show(part, fresh.content)
  return part.querySelector('#show-new') === null
}

/**
 * @param {Element} part
 * @param {DocumentFragment} fresh
 */
function show(part, fresh) {
  const before = news(part)
  const focused = document.activeElement
  const had = focused !== null && part.contains(focused) ? focused.id : null
  part.replaceChildren(fresh)
  if (had !== null) refocus(part, had)
  const now = news(part)
  const status = document.querySelector('#news')
  if (status !== null && now !== before) status.textContent = now
}

/**
 * @param {Element} part
 * @param {string} id what had the focus
 */
function refocus(part, id) {
  const same = id === '' ? null : document.getElementById(id)
  const next = same ?? part.querySelector('#show-new') ?? document.querySelector('#finishing-title')
  if (next instanceof HTMLElement) next.focus({ preventScroll: true })
}

/** @param {Element} part */
function news(part) {
  return part.querySelector('[data-news]')?.getAttribute('data-news') ?? ''
}

const part = document.querySelector('#under-way')
if (part !== null && part.hasAttribute('data-address')) {
  const again = () => {
    // A station that does not answer is asked again.
    const asked = look(part).catch(() => true)
    asked.then((more) => {
      if (more) setTimeout(again, EVERY_MS)
    })
  }
  again()
}

const player = /** @type {HTMLAudioElement | null} */ (document.querySelector('#player'))
const compared = /** @type {HTMLElement | null} */ (document.querySelector('#compared'))
if (player !== null && compared !== null) {
  compareRepairs(compared, player)
  compared.addEventListener('click', (event) => {
    const target = /** @type {Element} */ (event.target)
    const link = /** @type {HTMLElement | null} */ (target.closest('a[data-play-from-s]'))
    if (link === null || event.ctrlKey || event.metaKey || event.shiftKey) return
    event.preventDefault()
    player.currentTime = Number(link.dataset.playFromS)
    // A browser may refuse to play; the player stands at the place then, one key from playing.
    player.play().catch(() => player.focus())
  })
}
