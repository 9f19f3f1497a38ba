/**
 * Name of an entry, made on the device that writes it: a UUID of version 7 (RFC 9562, section 5.7). The moment stands in
 * front, then a counter that keeps names of one millisecond in order, then chance.
 */
let lastMs = -1;
let counter = 0;

export function entryId(now: number = Date.now(), chance: Uint8Array = random(10)): string {
  if (now <= lastMs) {
    counter += 1;
    if (counter > 0xfff) {
      lastMs += 1;
      counter = 0;
    }
  } else {
    lastMs = now;
    counter = ((chance[0] ?? 0) & 0x07) << 8;
  }
  const bytes = new Uint8Array(16);
  let rest = lastMs;
  for (let index = 5; index >= 0; index -= 1) {
    bytes[index] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes.set(chance.subarray(0, 10), 6);
  bytes[6] = 0x70 | (counter >> 8);
  bytes[7] = counter & 0xff;
  bytes[8] = 0x80 | ((bytes[8] ?? 0) & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

function random(length: number): Uint8Array {
  return crypto.getRandomValues(new Uint8Array(length));
}

/** A short name for this device, to be kept. */
export function deviceName(what: string): string {
  const letters = Array.from(random(4), (byte) => (byte % 36).toString(36)).join('');
  return `${what}-${letters}`;
}
