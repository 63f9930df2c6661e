'use strict';
// What is typed is kept under P.key at each letter: a page that is closed, or a telephone that ends it, loses nothing.
const P = JSON.parse(document.getElementById('plan').textContent);
const $ = id => document.getElementById(id);
const begin = () => ({ tap: P.taps[0].site, at: 0, got: {}, taps: {}, by: P.by, begun: now() });
const pad = (n, w = 2) => String(n).padStart(w, '0');
function stamp(d) { // a moment with its offset, as records have it
  const o = -d.getTimezoneOffset(), a = Math.abs(o);
  return `${local(d)}${o < 0 ? '-' : '+'}${pad(a / 60 | 0)}:${pad(a % 60)}`;
}
const local = d => `${d.getFullYear()}-${pad(d.getMonth() + 1)}-${pad(d.getDate())}T${pad(d.getHours())}:${pad(d.getMinutes())}`;
function now() { return stamp(new Date()) }
let S = begin(), ticking;
try { const kept = JSON.parse(localStorage.getItem(P.key)); if (kept && kept.got && P.taps.some(t => t.site === kept.tap)) S = kept } catch { }

const tap = () => P.taps.find(t => t.site === S.tap);
const test = () => tap().tests[S.at];
const id = (t, site = S.tap) => site + '.' + t.analyte;
const more = (site = S.tap) => S.taps[site] = S.taps[site] || {};
const few = v => String(+v.toPrecision(4));
function rounded(v, u) { // ± keeps two digits where it begins with 1, 2 or 3, else one; the value ends there too
  const k = -Math.floor(Math.log10(u)) + (u.toExponential()[0] < 4 ? 1 : 0), s = 10 ** k;
  return [v, u].map(x => (Math.round(x * s) / s).toFixed(Math.max(0, k)));
}
const pretty = u => u.replace('uS', 'µS').replace('degC', '°C').replace('ug/', 'µg/').replace('CaCO3', 'CaCO₃').replace('NO3', 'NO₃');
function el(tag, text, props) { const e = Object.assign(document.createElement(tag), props); if (text !== undefined) e.textContent = text; return e }

// whole is a typed text with each < and > beside its number; alone it is the end of the range, where that is in the unit chosen.
function whole(text, unit, t) {
  const s = text.trim().replace(/([<>])\s+/g, '$1');
  return unit === 0 && t.ends[{ '<': 0, '>': 1 }[s]] || s;
}
const beyond = (g, t) => g && g.v && /(^|\s)>/.test(g.v) && t.dilutable; // it can be tested again on a diluted sample
// judge says what is to be said of a typed text: parts are pieces with a class, ok that it may be kept, doubt that it is
// kept only when asked for.
function judge(text, d, unit, t) {
  const say = (ok, doubt, ...parts) => ({ ok, doubt, parts });
  const s = whole(text, unit, t);
  if (!s) return say(false, false, ['', 'Type what the display shows.']);
  if (s === '<' || s === '>') return say(false, false, ['over', 'Where its range ends is not known here. '], ['', `Type ${s} and the number.`]);
  const list = s.split(/\s+(?=[<>\d.,-])/);
  if (/,\d{3}$/.test(s) && !/^0,/.test(s)) return say(false, false, ['over', 'A comma with three figures can part thousands. '], ['', 'Type the point.']);
  let doubt = false; const parts = [];
  for (const one of list) {
    const m = one.replace(',', '.').match(/^([<>]?)\s*(-?\d*\.?\d+)$/);
    if (!m) return say(false, false, ['over', `“${one}” is not a number. `], ['', 'Read the display again.']);
    const v = +m[2];
    if (one.includes(',')) parts.push(['', `Read as ${m[1]}${m[2]}. `]);
    if (unit !== 0) continue; // the figures of the journal are in the first unit
    if (v < t.possible[0] || v > t.possible[1]) return say(false, false, ['over', 'Not possible: '], ['', `${t.title} is from ${few(t.possible[0])} to ${few(t.possible[1])}. Type it again.`]);
    if (m[1]) { parts.push(['', `${m[1] === '<' ? 'Below' : 'Above'} the range, kept as typed. `]); continue }
    if (t.range[1] !== null && v > t.range[1]) return say(false, false, ['unsure', `Above the range of ${few(t.range[1])}. `], ['', t.dilutable ? `Dilute the sample and choose × 2 or × 4, or type >${few(t.range[1])}.` : `Type >${few(t.range[1])}.`]);
    if (t.range[0] !== null && v < t.range[0]) return say(false, false, ['unsure', `Below the range of ${few(t.range[0])}. `], ['', `Type <${few(t.range[0])} if the display shows that.`]);
    const x = v * d, [low, high] = t.limit;
    if (t.accuracy) {
      const u = (t.accuracy[0] + t.accuracy[1] * v) * d, [a, b] = rounded(x, u);
      parts.push(['', `${a} ± ${b}. `]);
      if (low !== null || high !== null) {
        const out = high !== null && x - u > high || low !== null && x + u < low, near = high !== null && x + u > high || low !== null && x - u < low;
        parts.push(out ? ['over', '● Outside the limit. '] : near ? ['unsure', '◐ Inconclusive: the interval includes the limit. '] : ['', '○ Within the limit. ']);
      }
    }
    if (t.expected && (x < t.expected[0] || x > t.expected[1])) { doubt = true; parts.push(['unsure', `Expected ${few(t.expected[0])} to ${few(t.expected[1])}. `], ['', 'Repeat the test, or keep it as it is. ']) }
    else if (t.expected) parts.push(['', 'As expected. ']);
  }
  return say(true, doubt, ...parts);
}
function dilution() { return S.dil || 1 }
function unit() { return Math.max(0, $('unit').selectedIndex) }
function say() {
  const r = judge($('v').value, dilution(), unit(), test());
  $('say').replaceChildren(...r.parts.map(([c, text]) => el('span', text, { className: c })));
  $('keep').disabled = !r.ok; $('keep').textContent = r.doubt ? 'Keep as it is' : 'Keep';
  for (const b of document.querySelectorAll('.dil')) { b.setAttribute('aria-pressed', +b.dataset.d === dilution()); b.disabled = !test().dilutable && b.dataset.d !== '1' }
  return r;
}
function save() {
  try { localStorage.setItem(P.key, JSON.stringify(S)); return true } catch { return false }
}
function fill(select, list, chosen) { select.replaceChildren(...list.map(([value, text]) => el('option', text, { value, selected: value === chosen }))) }
function draw() {
  const t = test(), g = S.got[id(t)], m = more();
  fill($('tap'), P.taps.map(x => [x.site, x.name]), S.tap);
  $('step').textContent = `test ${S.at + 1} of ${tap().tests.length}`;
  $('name').textContent = t.title[0] === 'p' && t.title[1] === 'H' ? t.title : t.title[0].toUpperCase() + t.title.slice(1);
  $('how').textContent = S.at ? '' : tap().note;
  fill($('unit'), t.units.map(u => [u, pretty(u)]), S.unit || (g && g.unit) || t.units[0]); $('unit').hidden = !t.units.length;
  $('v').value = S.draft !== undefined ? S.draft : g && g.v || '';
  S.dil = S.draft !== undefined && S.dil || (g ? g.d : t.dilution) || 1;
  const facts = [['caution', t.caution], ['before', t.before.join(' · ')], ['expected', t.expected && `${few(t.expected[0])} to ${few(t.expected[1])}`], ['range', t.range.every(x => x !== null) && `${few(t.range[0])} to ${few(t.range[1])}`],
    ['limit', t.limits.join('; ')], ['lot', (g && g.lot || t.lots[0] || '') && `${g && g.lot || t.lots[0]} ${t.lot_notes[t.lots.indexOf(g && g.lot || t.lots[0])] || ''}`], ['method', t.steps.map(s => s.do).join(' · ')]];
  $('facts').replaceChildren(...facts.filter(f => f[1]).flatMap(f => [el('dt', f[0]), el('dd', f[1])]));
  fill($('lot'), [['', 'none'], ...t.lots.map(l => [l, l])], g ? g.lot : t.lots[0] || '');
  fill($('by'), [['', 'say who'], ...P.people.map(p => [p.id, p.name])], S.by);
  $('list').replaceChildren(...tap().tests.map((x, i) => {
    const k = S.got[id(x)], li = el('li'), b = el('button', undefined, { type: 'button' });
    b.append(el('span', x.title), el('b', k ? (k.skip ? 'not tested' : k.v + (k.d > 1 ? ' × ' + k.d : '')) : ''), el('span', pretty(k && k.unit || x.units[0] || '')));
    b.onclick = () => { leave(i) }; if (i === S.at) li.setAttribute('aria-current', 'step'); li.append(b); return li }));
  $('sampled').value = (m.sampled || '').slice(0, 16); $('note').value = m.note || ''; $('placed').textContent = m.place ? 'Place ' + m.place : '';
  $('photos').textContent = (m.photos || []).map(p => `${p.name} ${p.sha.slice(0, 12)}…`).join(', ');
  const n = Object.values(S.got).filter(k => !k.skip).length, all = P.taps.reduce((k, x) => k + x.tests.length, 0);
  $('kept').textContent = `${n} of ${all} tests, ` + (save() ? 'kept on this phone. ' : 'NOT kept by this browser: share the file before you close the page. ') + 'No network is used.';
  timer(); say();
}
function leave(i) { S.draft = S.unit = undefined; S.dil = 0; S.at = i; draw(); scrollTo(0, 0) }
function next() {
  const open = tap().tests.findIndex((t, i) => i > S.at && !S.got[id(t)]);
  if (open >= 0) { leave(open) } else {
    const other = P.taps.find(x => x.tests.some(t => !S.got[id(t, x.site)]));
    if (other) { S.tap = other.site; leave(other.tests.findIndex(t => !S.got[id(t, other.site)])) } else leave(Math.min(S.at + 1, tap().tests.length - 1));
  }
  $('v').focus({ preventScroll: true });
}
const values = g => g.v.split(/\s+/).map(v => g.unit ? v + ' ' + g.unit : v).join(', ');
const shown = g => values(g) + (g.d > 1 ? ' × ' + g.d : ''); // a reading as bench.Entry.Text has it
function keep() {
  if (!say().ok) return;
  const t = test(), m = more(), text = whole($('v').value, unit(), t).replace(/,/g, '.'), old = S.got[id(t)], d = t.dilutable ? dilution() : 1;
  m.sampled = m.sampled || now();
  const tries = old && old.tries || [];
  S.got[id(t)] = { tries: beyond(old, t) && d > (old.d || 1) ? [...tries, shown(old)] : tries, v: text, unit: $('unit').value || '', d, lot: $('lot').value, at: now() };
  S.timer = undefined; next();
}
$('v').oninput = () => { S.draft = $('v').value; save(); say() };
$('v').onkeydown = e => { if (e.key === 'Enter') { e.preventDefault(); const r = say(); if (r.ok && !r.doubt) keep() } };
$('f').onsubmit = e => e.preventDefault();
$('keep').type = 'button'; $('keep').onclick = keep;
$('unit').onchange = () => { S.unit = $('unit').value; S.draft = $('v').value; save(); say() };
$('skip').onclick = () => { S.got[id(test())] = { skip: true }; next() };
$('tap').onchange = () => { S.tap = $('tap').value; leave(0) };
for (const b of document.querySelectorAll('.dil')) b.onclick = () => { S.dil = +b.dataset.d; S.draft = $('v').value; save(); say() };
for (const b of document.querySelectorAll('[data-sign]')) b.onclick = () => { $('v').value = b.dataset.sign + $('v').value.replace(/^[<>]\s*/, ''); $('v').oninput(); $('v').focus() };
$('lot').onchange = () => { const g = S.got[id(test())]; if (g) { g.lot = $('lot').value; draw() } };
$('by').onchange = () => { S.by = $('by').value; save() };
$('note').oninput = () => { more().note = $('note').value; save() };
$('sampled').onchange = () => { const d = new Date($('sampled').value); if (!isNaN(d)) more().sampled = stamp(d); draw() };
$('place').onclick = () => {
  const no = () => { $('placed').textContent = 'The phone gives no place here. The place of the site is used.' };
  if (!navigator.geolocation) return no();
  const site = S.tap;
  navigator.geolocation.getCurrentPosition(p => { more(site).place = p.coords.latitude.toFixed(5) + ', ' + p.coords.longitude.toFixed(5); draw() }, no, { timeout: 20000 });
};
$('photo').onchange = async () => {
  const f = $('photo').files[0], site = S.tap;
  if (!f) return;
  if (!(window.crypto && crypto.subtle)) { $('photos').textContent = 'This browser computes no digest. Attach the photo on the computer.'; return }
  const sum = await crypto.subtle.digest('SHA-256', await f.arrayBuffer());
  (more(site).photos = more(site).photos || []).push({ name: f.name.replace(/[\r\n;]/g, ' '), sha: [...new Uint8Array(sum)].map(x => pad(x.toString(16))).join('') }); draw();
};
function waits() { return test().steps.filter(s => s.wait > 0) }
function timer() {
  clearInterval(ticking);
  const b = $('time'), bar = document.querySelector('#bar i'), w = waits(), clock = s => `${s / 60 | 0}:${pad(s % 60)}`;
  bar.style.width = 0; b.hidden = !w.length;
  if (!w.length) return;
  const k = (S.step || 0) % w.length;
  if (!S.timer) { b.textContent = `Start ${clock(w[k].wait)}, ${w[k].do}`; return }
  const show = () => {
    const left = Math.max(0, S.timer.end - Date.now());
    b.textContent = left ? `${clock(Math.ceil(left / 1e3))} left` : k + 1 < w.length ? 'Time is up: next step' : 'Time is up: read now';
    bar.style.width = 100 * (1 - left / S.timer.all) + '%';
    if (!left) { clearInterval(ticking); if (navigator.vibrate) navigator.vibrate([200, 100, 200]) }
  };
  ticking = setInterval(show, 250); show();
}
$('time').onclick = () => {
  const w = waits();
  if (S.timer && S.timer.end <= Date.now()) { S.timer = undefined; S.step = ((S.step || 0) + 1) % w.length }
  else if (S.timer) S.timer = undefined; // stopped
  else { const all = w[(S.step || 0) % w.length].wait * 1e3; S.timer = { end: Date.now() + all, all } }
  save(); timer();
};
function file() { // the file that wj import bench reads
  const out = ['wj bench 1', 'round: ' + P.name, 'plan: ' + P.made, 'by: ' + S.by];
  for (const x of P.taps) {
    const m = S.taps[x.site] || {}, got = x.tests.filter(t => S.got[id(t, x.site)]);
    if (!got.length) continue;
    out.push('tap: ' + x.site);
    if (m.sampled) out.push('sampled: ' + m.sampled);
    if (m.place) out.push('place: ' + m.place);
    for (const t of got) {
      const g = S.got[id(t, x.site)];
      if (g.skip) { out.push('not tested: ' + t.analyte); continue }
      out.push(`reading: ${t.analyte}; ${values(g)}` + (g.tries || []).map(x => '; first ' + x).join('') + (g.d > 1 ? `; dilution ${g.d}` : '') + (g.lot ? `; lot ${g.lot}` : '') + `; at ${g.at}`);
    }
    for (const l of (m.note || '').split('\n')) if (l.trim()) out.push('note: ' + l.trim());
    for (const p of m.photos || []) out.push(`photo: ${p.sha} ${p.name}`);
  }
  return out.concat('end', '').join('\n');
}
$('share').onclick = async () => {
  const f = new File([file()], `${P.name}-${local(new Date()).replace(/[:T]/g, '-')}.txt`, { type: 'text/plain' });
  try { if (navigator.canShare && navigator.canShare({ files: [f] })) return await navigator.share({ files: [f] }) } catch (e) { if (e.name === 'AbortError') return }
  const a = el('a', '', { href: URL.createObjectURL(f), download: f.name }); document.body.append(a); a.click(); a.remove();
};
$('fresh').onclick = () => { if (confirm('Put away everything typed here? Share the file first.')) { S = begin(); draw() } };
draw();
