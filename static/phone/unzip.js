// Reads a zip whose files are stored as they are, as our pack is: no copy is made of any.

const END = 0x06054b50;
const ENTRY = 0x02014b50;

// Yields the place and the bytes of each file; the bytes are a part of `zip` itself.
export function* filesOf(zip) {
  const view = new DataView(zip.buffer, zip.byteOffset, zip.byteLength);
  const utf8 = new TextDecoder();
  let end = zip.length - 22;
  while (end >= 0 && view.getUint32(end, true) !== END) end -= 1;
  if (end < 0) throw new Error("the pack is no zip");
  let at = view.getUint32(end + 16, true);
  for (let left = view.getUint16(end + 10, true); left > 0; left -= 1) {
    if (view.getUint32(at, true) !== ENTRY || view.getUint16(at + 10, true) !== 0) {
      throw new Error("the pack holds a file that is not stored as it is");
    }
    const size = view.getUint32(at + 24, true);
    const [name, extra, comment] = [28, 30, 32].map((place) => view.getUint16(at + place, true));
    const local = view.getUint32(at + 42, true);
    const from = local + 30 + view.getUint16(local + 26, true) + view.getUint16(local + 28, true);
    yield [utf8.decode(zip.subarray(at + 46, at + 46 + name)), zip.subarray(from, from + size)];
    at += 46 + name + extra + comment;
  }
}
