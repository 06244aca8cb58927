/** Registers the service worker and tells when a new release waits. */

/** Register; `onWaiting` is handed a function that lets the new release in. */
export async function watchForUpdates({ onWaiting, container = globalThis.navigator?.serviceWorker, reload = () => location.reload() }) {
  if (!container) return null;
  let asked = false;
  container.addEventListener('controllerchange', () => { if (asked) reload(); });
  const registration = await container.register('/field/sw.js', { scope: '/field/', updateViaCache: 'none' });
  const offer = () => onWaiting(() => {
    asked = true;
    registration.waiting?.postMessage('update');
  });
  if (registration.waiting && container.controller) offer();
  registration.addEventListener('updatefound', () => {
    const worker = registration.installing;
    worker?.addEventListener('statechange', () => { if (worker.state === 'installed' && container.controller) offer(); });
  });
  return registration;
}
