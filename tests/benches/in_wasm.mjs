// Times the log in WebAssembly under Node, and WebCrypto's check of a signature beside it. What counts is the time of
// the processor, so that other work of the machine does not: wall time stands behind it.
// `cargo xtask benches` builds what this runs and hands its folder over.
import { createRequire } from "node:module";
import { argv } from "node:process";

const { Logs, Signed } = createRequire(import.meta.url)(`${argv[2]}/benches.js`);
const entries = Number(argv[3] ?? 100000);

const best = (times, work) => {
  let least = { cpu: Infinity, wall: Infinity };
  let found;
  for (let round = 0; round < times; round += 1) {
    const [before, began] = [process.cpuUsage(), performance.now()];
    found = work();
    const { user, system } = process.cpuUsage(before);
    const took = { cpu: (user + system) / 1000, wall: performance.now() - began };
    if (took.cpu < least.cpu) least = took;
  }
  return [found, least];
};
const say = (what, [found, { cpu, wall }], target) =>
  console.log(`${what}: ${cpu.toFixed(0)} ms (wall ${wall.toFixed(0)} ms; ${found}; target ${target} ms)`);

for (const signed of [false, true]) {
  const words = signed ? "signed" : "unsigned";
  const count = signed ? entries / 10 : entries;
  const logs = new Logs(count, signed);
  console.log(`${count} ${words} entries, ${(logs.bytes() / 1e6).toFixed(1)} MB`);
  say(`read, check and hash ${count} ${words}`, best(3, () => logs.read(0)), 1000);
  if (!signed) {
    logs.read(1);
    logs.read(0);
    say(`merge ${count} into ${count}`, best(1, () => logs.merge()), 250);
    say(`open ${count} with their records`, best(3, () => logs.open()), 1000);
  }
  logs.free();
}

const signed = new Signed(entries / 10);
say(`check ${entries / 10} entries, their signatures included`, best(3, () => signed.check()), 1000);

const { publicKey, privateKey } = await crypto.subtle.generateKey("Ed25519", false, ["sign", "verify"]);
const message = crypto.getRandomValues(new Uint8Array(64));
const signature = await crypto.subtle.sign("Ed25519", privateKey, message);
const [before, began] = [process.cpuUsage(), performance.now()];
for (let number = 0; number < entries / 10; number += 1) {
  if (!await crypto.subtle.verify("Ed25519", publicKey, signature, message)) throw new Error("it does not hold");
}
const { user, system } = process.cpuUsage(before);
say(`WebCrypto, ${entries / 10} signatures one after the other`,
  ["all hold", { cpu: (user + system) / 1000, wall: performance.now() - began }], 1000);
