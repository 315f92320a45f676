// What the scripts say, in the language of the page. The words are made where the pages are, one
// file a language; a page, a worker and the service worker each hold those that they need.

import { BASE } from "./state.js";

const read = {};
let words = {};

// Tell in this language from now on; where its words cannot be had, in the one before.
export async function speak(language) {
  const place = `${BASE}phone/words/${language}.json`;
  try {
    read[language] ??= await ((await self.caches?.match(place)) ?? (await fetch(place))).json();
    words = read[language];
  } catch (error) {
    console.warn("no words:", error);
  }
}

export const tell = (key, parts = {}) => (words[key] ?? "").replace(/\{(\w+)\}/g, (_, name) => parts[name]);
