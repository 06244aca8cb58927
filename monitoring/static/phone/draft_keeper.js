/** Keeps the open draft on the phone at each change, the newest words last. */

/** `keep` may be called at every key press: writes never overlap and never fall behind. */
export function createDraftKeeper(store, onTrouble) {
  let waiting = null;
  let writing = null;

  async function write() {
    while (waiting) {
      const draft = waiting;
      waiting = null;
      try {
        await store.keepDraft(draft);
      } catch (error) {
        onTrouble(error);
      }
    }
    writing = null;
  }

  return {
    keep(draft) {
      waiting = structuredClone(draft);
      writing ??= write();
    },
    finished: () => writing ?? Promise.resolve(),
  };
}
