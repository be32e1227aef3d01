// Starts the app, and keeps it for use without a network when the page names a service worker.
import start from "./app.js";

const failed = (reason) => {
  const words = `while starting: ${reason?.message || reason}`;
  if (window.upsweepRescue) {
    window.upsweepRescue(words);
  } else {
    document.getElementById("starting").textContent =
      `Upsweep could not start (${words}). What is saved stays on this device. Reload the page to try again.`;
  }
};

const keep = async () => {
  if (!("serviceWorker" in navigator)) return;
  const worker = document.querySelector('meta[name="service-worker"]')?.content;
  if (worker) {
    await navigator.serviceWorker.register(worker, { updateViaCache: "none" });
  } else {
    // A page for developing must not be answered from what an earlier visit kept.
    (await navigator.serviceWorker.getRegistration())?.unregister();
  }
};

start({ module_or_path: new URL("./app.wasm", import.meta.url) }).then(
  () => document.getElementById("starting")?.remove(),
  failed,
);
keep().catch((reason) => console.warn(`Upsweep will not work without a network: ${reason?.message || reason}`));
