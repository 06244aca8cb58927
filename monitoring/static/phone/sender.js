/** Decides when to try: at once after saving, soon after a failure, later after many. */

const FIRST_MS = 1000;
const LONGEST_MS = 5 * 60 * 1000;

/** Full jitter: anywhere between now and a ceiling that doubles up to five minutes. */
export function backoff(failures, random = Math.random) {
  return Math.round(random() * Math.min(LONGEST_MS, FIRST_MS * 2 ** Math.min(failures, 20)));
}

/**
 * Tries the outbox and remembers how it went.
 *
 * `ours()` answers whether the server knows this phone under the pass whose
 * counts these are: counts never travel under another person's pass.
 * `waiting()` answers whether there is anything to send, so that an empty
 * outbox costs no signal.
 */
export function createSender({ outbox, ours, waiting, report, now = Date.now, random = Math.random }) {
  let failures = 0;
  let notBefore = 0;
  let running = null;
  let again = null; // what was asked for while an attempt was under way

  function filed(result) {
    if (result === null) return result; // another tab is sending
    if (result.kind === 'wait') {
      failures += 1;
      notBefore = now() + (result.after_s === null ? backoff(failures, random) : result.after_s * 1000);
    } else {
      failures = 0;
      notBefore = 0;
    }
    return result;
  }

  async function attempt(hurried) {
    if (!hurried && !(await waiting())) return { kind: 'done' };
    const standing = await ours();
    return filed(standing.kind === 'ours' ? await outbox.sendDue({ hurried }) : standing);
  }

  /** Try now unless a wait is on; `hurried` (the button) ends every wait. */
  async function poke({ hurried = false } = {}) {
    if (running) {
      again = { hurried: hurried || again?.hurried === true };
      return running;
    }
    if (!hurried && now() < notBefore) return null;
    running = attempt(hurried);
    let result;
    try {
      result = await running;
    } finally {
      running = null;
    }
    report(result);
    const asked = again;
    again = null;
    return asked && (asked.hurried || result?.kind === 'done') ? poke(asked) : result;
  }

  return { poke, waitsUntil: () => notBefore };
}
