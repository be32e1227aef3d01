// The app's second entry: the same program without a page, for work that would hold the page up.
// A list without numbers says that it is ready, null that it cannot start; each answer is led by the
// ticket of its question, and a ticket alone says that the work broke it.
import start, { work_out } from "./app.js";

const ready = start({ module_or_path: new URL("./app.wasm", import.meta.url) });

ready.then(() => self.postMessage(new Float64Array(0)), () => self.postMessage(null));

self.addEventListener("message", async ({ data }) => {
  try {
    await ready;
  } catch {
    return;
  }
  const ticket = data.subarray(0, 1);
  try {
    const found = work_out(data.subarray(1));
    const answer = new Float64Array(found.length + 1);
    answer.set(ticket);
    answer.set(found, 1);
    self.postMessage(answer, [answer.buffer]);
  } catch {
    self.postMessage(new Float64Array(ticket));
  }
});
