// A time stands in the page in the server's zone, named. Here it is told in the reader's own.

const { lang } = document.documentElement;
const day = { day: "2-digit", month: "short", year: "numeric" };
const minute = { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZoneName: "short" };
// As fine as it stands there: a day, a minute, or a second of today.
const fine = [day, { ...day, ...minute }, { ...minute, second: "2-digit" }];

function tell(time) {
  const at = new Date(time.dateTime);
  const colons = time.textContent.split(":").length - 1;
  if (Number.isNaN(at.getTime()) || !fine[colons]) return;
  time.textContent = at.toLocaleString(lang === "en" ? "en-GB" : lang, fine[colons]);
}

function tellAll() {
  for (const one of document.querySelectorAll("time[datetime]")) tell(one);
}

tellAll();
document.addEventListener("turbo:render", tellAll); // pages that the phone shows without a full load
