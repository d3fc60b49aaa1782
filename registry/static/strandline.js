// Two niceties; every page does its job without them.

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
  bytes < 1000 ? `${bytes} bytes` : bytes < 1e6 ? `${Math.round(bytes / 1e3)} kB`
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
