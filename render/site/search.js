const find = document.getElementById("find"), found = document.getElementById("found");
find.addEventListener("input", () => {
  const wanted = find.value.toLowerCase().split(/\s+/).filter(Boolean);
  let n = 0;
  for (const section of document.querySelectorAll("section")) {
    let some = false;
    for (const li of section.querySelectorAll("li")) {
      const text = li.textContent.toLowerCase() + " " + li.dataset.text;
      li.hidden = !wanted.every(word => text.includes(word));
      if (!li.hidden) { some = true; n++; }
    }
    section.hidden = !some;
  }
  found.textContent = wanted.length ? n + (n === 1 ? " page" : " pages") : "";
});
