/** How safe counts are on this phone, in plain facts. */

/** Ask the browser to keep our counts and tell what it answered. */
export async function askToKeep(storage = globalThis.navigator?.storage) {
  if (!storage?.persist) return { kept: false, asked: false };
  const kept = (await storage.persisted()) || (await storage.persist());
  return { kept, asked: true };
}

/** Whether this page runs as an installed app. */
export function isInstalled(view = globalThis) {
  return view.navigator?.standalone === true || view.matchMedia?.('(display-mode: standalone)').matches === true;
}

/** An iPhone or iPad tab loses its storage after a week without a visit; an installed app does not. */
export function isAppleTab(view = globalThis) {
  return view.navigator?.standalone === false;
}

/** The key of the sentence that tells the truth about this phone. */
export function safetyKey({ kept }, view = globalThis) {
  if (kept) return 'safe_here';
  return isAppleTab(view) ? 'safe_not_apple_tab' : 'safe_not_promised';
}
