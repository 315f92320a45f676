// What the scripts say, in the language of the page. The words are made where the pages are, one
// file a language; a page and the service worker each hold those that they need.

import { BASE } from "./state.js";

const read = {};
let words = {};

// Tell in this language from now on; where its words cannot be had, in the one before. The
// service worker names the cache, as what it fetches does not come back to it.
export async function speak(language, cacheName) {
  const place = `${BASE}phone/words/${language}.json`;
  try {
    read[language] ??= await (await find(place, cacheName)).json();
    words = read[language];
  } catch (error) {
    console.warn("no words:", error);
  }
}

function find(place, cacheName) {
  if (cacheName) return caches.match(place, { cacheName });
  return fetch(place).catch(() => caches.match(place));
}

export const tell = (key, parts = {}) => (words[key] ?? "").replace(/\{(\w+)\}/g, (_, name) => parts[name]);

// What a page says that stands in for another: plain values, so that they can be kept.
export const stoppedWords = (language, lines, heading = tell("heading")) => ({
  language,
  heading,
  lines,
  first: tell("first_page"),
});
