/** Has the browser keep the files of the dashboard, where it can: over https, or on the server's own machine. */
export function keepShell(): void {
  if (!import.meta.env.PROD || !('serviceWorker' in navigator)) return;
  // After everything that the page itself needs.
  addEventListener('load', () => {
    navigator.serviceWorker.register('/worker.js', { updateViaCache: 'none' }).catch((cause: unknown) => {
      // The page works without; only a reload without the server does not.
      console.warn('The dashboard could not be stored for times without a server.', cause);
    });
  });
}
