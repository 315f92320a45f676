// Whether the server's log only grew since this phone last looked: a proof leads from the head seen
// then to the one of now, each a hash over all that had arrived (RFC 9162, section 2.1.4.2).

// A head is {size, root}; `now` brings the proof along.
export async function follows(seen, now) {
  if (!seen?.size) return true; // nothing was seen yet
  if (seen.size === now.size) return seen.root === now.root;
  if (seen.size > now.size || !now.proof?.length) return false;
  const path = now.proof.map(bytesOf);
  let [first, second] = [seen.size - 1, now.size - 1];
  const halve = () => ([first, second] = [Math.floor(first / 2), Math.floor(second / 2)]);
  while (first % 2) halve();
  // What was seen was one whole branch if this led up to its left edge: it begins the path itself.
  if (!first) path.unshift(bytesOf(seen.root));
  let [old, whole] = [path[0], path[0]];
  for (const one of path.slice(1)) {
    if (!second) return false;
    if (first % 2 || first === second) {
      [old, whole] = [await branch(one, old), await branch(one, whole)];
      while (first && first % 2 === 0) halve();
    } else {
      whole = await branch(whole, one);
    }
    halve();
  }
  return !second && hexOf(old) === seen.root && hexOf(whole) === now.root;
}

async function branch(left, right) {
  const data = new Uint8Array([1, ...left, ...right]);
  return new Uint8Array(await crypto.subtle.digest("SHA-256", data));
}

const bytesOf = (hex) => Uint8Array.from(hex.match(/../g) ?? [], (two) => parseInt(two, 16));
const hexOf = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
