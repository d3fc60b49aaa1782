// Niceties; every page does its job without them.

// What they say, in the page's language, stands with the script in the page.
const SAID = document.currentScript.dataset;

// A page that waits for a task looks again by itself, and stops when the part is gone.
async function lookAgain() {
  const part = document.getElementById("progress");
  if (!part) return;
  try {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
    if (!answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const next = page.getElementById("progress");
    if (!next) return location.reload();
    if (next.textContent !== part.textContent) part.replaceWith(next);
  } catch {
    // The network is away; the link on the page still works.
  }
  waitFor(document.getElementById("progress"));
}

function waitFor(part) {
  if (part) setTimeout(lookAgain, 1000 * (Number(part.dataset.again) || 3));
}

// A file chooser says which files were chosen, and how big they are.
const inUnits = (bytes) =>
  bytes < 1000 ? SAID.bytes.replace("{number}", bytes) : bytes < 1e6 ? `${Math.round(bytes / 1e3)} kB`
  : `${(bytes / 1e6).toFixed(1)} MB`;

function sayFiles(event) {
  const input = event.target;
  if (input.type !== "file") return;
  let list = input.nextElementSibling;
  if (!list || !list.classList.contains("chosen")) {
    list = document.createElement("ul");
    list.className = "chosen plain";
    list.setAttribute("role", "status");
    input.after(list);
  }
  list.replaceChildren(
    ...Array.from(input.files, (file) => {
      const row = document.createElement("li");
      row.textContent = `${file.name}, ${inUnits(file.size)}`;
      return row;
    }),
  );
}

document.addEventListener("change", sayFiles);
waitFor(document.getElementById("progress"));

// The key / leads to the search box, unless one is typing.
function goToSearch(event) {
  const isTyping = event.target.closest("input, textarea, select, [contenteditable]");
  if (event.key !== "/" || isTyping || event.ctrlKey || event.metaKey || event.altKey) return;
  const box = document.getElementById("q") ?? document.getElementById("find-q");
  if (!box) return;
  event.preventDefault();
  box.focus();
  box.select();
}

// While a question is written, what is close to it is looked for.
function lookForSimilar(place) {
  const form = document.getElementById(place.dataset.form);
  if (!form) return;
  let waiting, asking, last = "";
  async function look() {
    const typed = new URLSearchParams();
    for (const name of ["title", "taxon"]) typed.set(name, form.elements[name]?.value ?? "");
    if (String(typed) === last) return;
    last = String(typed);
    asking?.abort();
    asking = new AbortController();
    try {
      const answer = await fetch(`${place.dataset.similar}?${typed}`, { signal: asking.signal });
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      place.replaceChildren(...page.body.childNodes);
    } catch {
      // The network is away, or one typed on; the button on the page still looks.
    }
  }
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(look, 600);
  });
}

// While a design is filled in, its answer stands beside it.
function answerBeside(place) {
  const form = document.getElementById(place.dataset.form);
  if (!form) return;
  let waiting, asking;
  async function ask() {
    asking?.abort();
    asking = new AbortController();
    const typed = new URLSearchParams(new FormData(form));
    try {
      const answer = await fetch(`${place.dataset.answer}?${typed}`, { signal: asking.signal });
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      place.replaceChildren(...page.body.childNodes);
      history.replaceState(null, "", `?${typed}`);
    } catch {
      // The network is away, or one typed on; the button on the page still asks.
    }
  }
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(ask, 250);
  });
}

// Long texts are kept in this browser until they were taken in, or for a week.
const DRAFT = "draft:", WEEK = 7 * 24 * 3600 * 1000;

function textsOf(form) {
  return [...form.querySelectorAll("textarea[name]:not([readonly])")];
}

function draftOf(form) {
  const by = form.elements.typed_by?.value;
  const isKept = by && form.dataset.draft !== "no" && textsOf(form).length;
  return isKept ? `${DRAFT}${by}:${form.getAttribute("action") || location.pathname}` : "";
}

function writeDraft(form, key) {
  const texts = Object.fromEntries(textsOf(form).map((area) => [area.name, area.value]));
  if (Object.values(texts).some((text) => text.trim()))
    localStorage.setItem(key, JSON.stringify({ at: Date.now(), texts }));
  else localStorage.removeItem(key);
}

function giveBack(form, key) {
  const draft = JSON.parse(localStorage.getItem(key) ?? "null");
  const areas = draft ? textsOf(form).filter((one) => !one.value.trim() && draft.texts[one.name]) : [];
  if (!areas.length) return;
  for (const area of areas) area.value = draft.texts[area.name];
  const said = document.createElement("p");
  const afresh = document.createElement("button");
  said.setAttribute("role", "status");
  said.className = "quiet draft";
  const at = new Date(draft.at).toLocaleString(document.documentElement.lang || undefined,
    { dateStyle: "medium", timeStyle: "short" });
  said.textContent = `${SAID.isBack.replace("{moment}", at)} `;
  afresh.type = "button";
  afresh.className = "aslink";
  afresh.textContent = SAID.afresh;
  afresh.addEventListener("click", () => {
    for (const area of areas) area.value = "";
    localStorage.removeItem(key);
    said.remove();
    areas[0].focus();
  });
  said.append(afresh);
  form.prepend(said);
}

function forgetDrafts(isOld) {
  for (const key of Object.keys(localStorage).filter((one) => one.startsWith(DRAFT))) {
    let at = 0;
    try {
      at = JSON.parse(localStorage.getItem(key)).at;
    } catch {
      // No draft of ours.
    }
    if (isOld(at)) localStorage.removeItem(key);
  }
}

function keepDrafts() {
  forgetDrafts((at) => Date.now() - at > WEEK);
  const sent = sessionStorage.getItem("sent");
  sessionStorage.removeItem("sent");
  if (sent && document.querySelector(".messages [data-done]")) localStorage.removeItem(sent);
  for (const form of document.querySelectorAll("form[method=post]")) {
    if (form.hasAttribute("data-forget"))
      form.addEventListener("submit", () => forgetDrafts(() => true));
    const key = draftOf(form);
    if (!key) continue;
    giveBack(form, key);
    let waiting;
    form.addEventListener("input", () => {
      clearTimeout(waiting);
      waiting = setTimeout(() => writeDraft(form, key), 300);
    });
    form.addEventListener("submit", () => {
      clearTimeout(waiting);
      writeDraft(form, key);
      sessionStorage.setItem("sent", key);
    });
  }
}

document.addEventListener("keydown", goToSearch);
document.querySelectorAll("[data-similar]").forEach(lookForSimilar);
document.querySelectorAll("[data-answer]").forEach(answerBeside);
try {
  keepDrafts();
} catch {
  // The browser keeps nothing for this site.
}
