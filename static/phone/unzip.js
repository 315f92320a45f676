// Reads a zip whose files are stored as they are, as our pack is, while it comes: it is never held
// whole.

const FILE = 0x04034b50;
const ROOM = 1 << 18;

// Yields the place and the bytes of each file.
export async function* filesOf(stream) {
  const take = taker(piecesOf(stream));
  const utf8 = new TextDecoder();
  for (;;) {
    const head = new DataView((await take(30)).buffer);
    if (head.getUint32(0, true) !== FILE) return; // the list of all files comes last
    if (head.getUint16(8, true) !== 0) throw new Error("the pack holds a file that is not stored as it is");
    const place = utf8.decode(await take(head.getUint16(26, true)));
    await take(head.getUint16(28, true));
    yield [place, await take(head.getUint32(22, true))];
  }
}

// Gives the next bytes, as many as are asked for.
function taker(nextPiece) {
  let piece = new Uint8Array(0);
  return async (size) => {
    const taken = new Uint8Array(size);
    for (let have = 0; have < size; ) {
      if (!piece.length) piece = await nextPiece();
      if (!piece) throw new Error("the pack was cut short");
      const part = piece.subarray(0, size - have);
      taken.set(part, have);
      have += part.length;
      piece = piece.subarray(part.length);
    }
    return taken;
  };
}

// Gives what comes, piece by piece; where the browser can, always in the same room.
function piecesOf(stream) {
  try {
    const reader = stream.getReader({ mode: "byob" });
    let room = new ArrayBuffer(ROOM);
    return async () => {
      const { done, value } = await reader.read(new Uint8Array(room));
      room = value?.buffer;
      return done ? undefined : value;
    };
  } catch {
    const reader = stream.getReader();
    return async () => (await reader.read()).value;
  }
}
