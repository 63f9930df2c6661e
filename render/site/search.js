const find = document.getElementById("find"), found = document.getElementById("found");
const sections = [...document.querySelectorAll("section")].map(at => ({at, rows: [...at.querySelectorAll("li")].map(
  li => ({li, text: li.textContent.toLowerCase() + " " + li.dataset.text.toLowerCase()}))}));
const look = () => {
  const wanted = find.value.toLowerCase().split(/\s+/).filter(Boolean);
  let n = 0;
  for (const {at, rows} of sections) {
    let some = false;
    for (const {li, text} of rows) {
      li.hidden = !wanted.every(word => text.includes(word));
      if (!li.hidden) { some = true; n++; }
    }
    at.hidden = !some;
  }
  found.textContent = wanted.length ? n + (n === 1 ? " page" : " pages") : "";
};
find.addEventListener("input", look);
find.form.addEventListener("submit", event => event.preventDefault());
find.value = new URLSearchParams(location.search).get("q") || "";
look();
