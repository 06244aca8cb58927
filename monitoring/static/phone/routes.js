/** Addresses inside the app, kept behind the # so that the shell answers all of them offline. */

export const routes = {
  plots: () => '#/',
  plot: (round, plot) => `#/plot/${round}/${plot}`,
  count: (round, plot) => `#/count/${round}/${plot}`,
  review: (round, plot) => `#/review/${round}/${plot}`,
  saved: (item) => `#/saved/${item}`,
  lots: () => '#/lots',
  check: (lot) => `#/check/${lot}`,
  blocks: () => '#/blocks',
  walk: (block) => `#/walk/${block}`,
  tasks: () => '#/tasks',
  care: (task) => `#/care/${task}`,
  recorded: (item) => `#/recorded/${item}`,
  outbox: () => '#/outbox',
  enrol: () => '#/enrol',
  leave: () => '#/leave',
  help: () => '#/help',
};

/** Read an address: the name of the screen and what follows it. */
export function readRoute(hash) {
  const [name, ...rest] = String(hash).replace(/^#\/?/, '').split('/').filter(Boolean);
  return { name: name ?? 'plots', rest };
}

/** Take a code out of the address bar at once, before anything else can see it. */
export function takeCode(location, history) {
  const code = new URLSearchParams(location.hash.replace(/^#/, '')).get('code');
  if (code === null) return '';
  history.replaceState(null, '', location.pathname);
  return code;
}

/** A code as the server expects it, however it was typed. */
export function tidyCode(typed) {
  return String(typed).trim().toUpperCase().replace(/[\s\u2010-\u2015]+/g, '-').replace(/-+/g, '-');
}
