// Opens finished pages in a headless browser, on a phone's and a laptop's width, light and dark: no error in the console, no request,
// no sideways scroll, soon there, accessible by axe-core's rules, the run-through scrubbed and played, printed in pages.
//
//   node reports.mjs PAGE.html... [--shots DIR]
import { readFile, mkdir } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { createRequire } from 'node:module';
import puppeteer from 'puppeteer-core';

const BROWSER = process.env.CHROMIUM ?? '/usr/bin/chromium';
const FLAGS = [
  '--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync', '--disable-dev-shm-usage',
];
const WIDTHS = [390, 1280];
const SCHEMES = ['light', 'dark'];
// Generous on a shared machine: what is asked is a second.
const SOON_MS = Number(process.env.SOON_MS ?? 1000);
const LARGEST = 3e6;
const axe = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

const args = process.argv.slice(2);
const at = args.indexOf('--shots');
const shots = at >= 0 ? args.splice(at, 2)[1] : null;
if (shots) await mkdir(shots, { recursive: true });
let passed = 0, failed = 0;
const check = (what, good, told = '') => {
  if (good) passed += 1;
  else {
    failed += 1;
    console.log(`FAILED ${what}${told ? ': ' + told : ''}`);
  }
};

// Nothing plays without a click, and where the screening for flashes found something nothing is shown without one.
const runThrough = async (page, name) => {
  const there = await page.$('[id$=run-through] .player');
  if (!there) return;
  if (await page.$eval('[id$=run-through] .player', (player) => player.dataset.flashes === 'yes')) {
    check(`${name}: guarded where flashes were found`, !(await page.$('[id$=run-through] input')));
    await page.$eval('[id$=run-through] .player button', (button) => button.click());
  }
  const place = () => page.$eval('[id$=run-through] input[type=range]', (slider) => Number(slider.value));
  const still = await place();
  await new Promise((done) => setTimeout(done, 400));
  check(`${name}: nothing plays by itself`, (await place()) === still);
  await page.$eval('[id$=run-through] input[type=range]', (slider) => {
    slider.value = Math.floor(slider.max / 2);
    slider.dispatchEvent(new Event('input', { bubbles: true }));
  });
  const middle = await place();
  check(`${name}: scrubbed`, middle > 0);
  const told = await page.$eval('[id$=run-through] output', (output) => output.textContent);
  check(`${name}: the place is told`, told.length > 0, told);
  await page.$eval('[id$=run-through] .play', (button) => button.click());
  await new Promise((done) => setTimeout(done, 900));
  const later = await place();
  check(`${name}: played`, later !== middle, `${middle} to ${later}`);
  await page.$eval('[id$=run-through] .play', (button) => button.click());
  const stopped = await place();
  await new Promise((done) => setTimeout(done, 400));
  check(`${name}: stopped`, (await place()) === stopped);
  const press = (text) => page.$$eval('[id$=run-through] .player button', (all, text) => all.find((b) => b.textContent === text)?.click(), text);
  await page.$eval('[id$=run-through] input[type=range]', (slider) => {
    slider.value = 1;
    slider.dispatchEvent(new Event('input', { bubbles: true }));
  });
  await press('Next frame');
  check(`${name}: one frame on`, (await place()) === 2);
  await press('Previous frame');
  check(`${name}: one frame back`, (await place()) === 1);
  // Problems are gone to in their order, round and round, from wherever one stands; each is told.
  const stops = await page.$eval('[id$=run-through] .player', (p) => p.dataset.stops.split(' ').filter(Boolean).map(Number));
  const seen = [], untold = [];
  for (let n = 0; n < Math.min(stops.length, 40); n += 1) {
    await press('Next problem');
    seen.push(await place());
    if (!(await page.$eval('[id$=run-through] .problem', (p) => p.textContent)).includes('. ')) untold.push(n);
  }
  const from = stops.findIndex((n) => n > 1);
  const due = stops.slice(0, 40).map((_, n) => stops[(Math.max(from, 0) + n) % stops.length]);
  check(`${name}: next problem`, seen.join() === due.join(), `${seen} of ${stops}`);
  check(`${name}: each problem is told`, untold.length === 0, untold.join());
  if (stops.length > 1) {
    await press('Previous problem');
    check(`${name}: previous problem`, (await place()) === (due.at(-2) ?? due[0]), `${await place()} of ${due}`);
  }
  // Half as fast; and a loop stays around its problem.
  const played = async (ms) => {
    const before = await place();
    await page.$eval('[id$=run-through] .play', (button) => button.click());
    await new Promise((done) => setTimeout(done, ms));
    await page.$eval('[id$=run-through] .play', (button) => button.click());
    return (await place()) - before;
  };
  const toFirst = () => page.$eval('[id$=run-through] input[type=range]', (slider) => {
    slider.value = 0;
    slider.dispatchEvent(new Event('input', { bubbles: true }));
  });
  await toFirst();
  const full = await played(800);
  await press('Half speed');
  await toFirst();
  const half = await played(800);
  check(`${name}: half speed`, half > 0 && half < full, `${half} of ${full}`);
  await press('Half speed');
  if (stops.length) {
    await press('Next problem');
    const [stop, beside] = [await place(), await page.$eval('[id$=run-through] .player', (p) => Number(p.dataset.beside))];
    await press('Loop');
    const strayed = [];
    await page.$eval('[id$=run-through] .play', (button) => button.click());
    for (let n = 0; n < 12; n += 1) {
      await new Promise((done) => setTimeout(done, 150));
      const now = await place();
      if (Math.abs(now - stop) > beside) strayed.push(now);
    }
    const text = await page.$eval('[id$=run-through] .play', (button) => button.textContent);
    check(`${name}: loops around a problem`, strayed.length === 0 && text === 'Stop', `${strayed} around ${stop}, ${text}`);
    await page.$eval('[id$=run-through] .play', (button) => button.click());
  }
};

// Hours are equally long along the strip and every plot, but for hours that are cut out: the labelled times stand where the axis
// says, each part of the axis has as many pixels an hour, and every cut is marked.
const hours = async (page, name, short) => {
  const runs = await page.$$eval('[data-axis]', (sections) => sections.map((section) => ({
    pieces: section.dataset.axis.split(';').filter(Boolean).map((piece) => piece.split(' ').map(Number)),
    columns: section.dataset.names.split('\n').length,
    axes: [...section.querySelectorAll('.times')].map((axis) => ({
      cuts: axis.querySelectorAll('.cutmark').length,
      width: axis.ownerSVGElement.getBoundingClientRect().width,
      ticks: [...axis.querySelectorAll('line')].map((line) => ({
        x: line.getBoundingClientRect().x - axis.ownerSVGElement.getBoundingClientRect().x,
        at: Number(line.nextElementSibling.dataset.at),
      })),
    })),
    // Right end of the last bar of the run's own lane, as a share of it.
    shot: (() => {
      const lane = section.querySelector('.lane.held svg.data');
      const bar = lane?.querySelector('path');
      return lane && (bar.getBBox().x + bar.getBBox().width) / lane.viewBox.baseVal.width;
    })(),
  })));
  for (const { pieces, columns, axes, shot } of runs) {
    if (!pieces.length) continue;
    const pace = ([a, b, s, t]) => (b - a) / (t - s);
    check(`${name}: each part of the axis has the same pace`, pieces.every((p) => Math.abs(pace(p) / pace(pieces[0]) - 1) < 1e-3));
    check(`${name}: the axis stands below strip and plots`, axes.length > 1);
    for (const { cuts, width, ticks } of axes) {
      check(`${name}: every cut is marked`, cuts === pieces.length - 1, `${cuts} of ${pieces.length - 1}`);
      check(`${name}: times along the axis`, ticks.length > 1, `${ticks.length}`);
      const px = columns / width;
      for (const [n, one] of ticks.slice(1).entries()) {
        const before = ticks[n];
        const within = pieces.find(([, , s, t]) => before.at >= s && one.at <= t);
        if (!within) continue;
        const due = (one.at - before.at) * pace(within) / px;
        check(`${name}: hours are equally long`, Math.abs(one.x - before.x - due) < 1, `${one.x - before.x} px for ${due} px`);
      }
    }
    // 213 of the 960 slots planned: the sample's own truth.json.
    if (short.includes('glasshouse-night')) check(`${name}: the bar stops at 22 %`, Math.abs(shot - 213 / 960) < 0.005, `${shot}`);
  }
};

// The last frame is laid over the first, and fades as the slider is moved.
const firstAndLast = async (page, name) => {
  const slide = (value) => page.$eval('[id$=first-last]', (figure, value) => {
    const slider = figure.querySelector('.fade input');
    slider.value = value;
    slider.dispatchEvent(new Event('input', { bubbles: true }));
    const [first, last] = [...figure.querySelectorAll('img')].map((image) => image.getBoundingClientRect());
    const over = Math.abs(first.x - last.x) < 1 && Math.abs(first.y - last.y) < 1;
    return { over, seen: Number(getComputedStyle(figure.querySelectorAll('img')[1]).opacity) };
  }, value);
  if (!(await page.$('[id$=first-last]'))) return;
  const [clear, whole] = [await slide(0), await slide(100)];
  check(`${name}: the last frame lies over the first`, clear.over && whole.over);
  check(`${name}: it fades`, clear.seen === 0 && whole.seen === 1, `${clear.seen} to ${whole.seen}`);
};

// The first screen of a phone holds the call, what happened, what to do where there is something, and the run at a glance.
const firstScreen = async (page, name) => {
  const parts = ['.call .word', '.call .story', '.call .now', '.call .glance'];
  const ends = await page.evaluate((parts) => parts.map((part) => {
    const there = document.querySelector(part);
    return there ? Math.round(there.getBoundingClientRect().bottom) : null;
  }), parts);
  const [word, story, now, glance] = ends;
  const clear = await page.$('.call.clear');
  check(`${name}: the first screen tells it`, word && story && (now || clear) && glance
    && ends.every((end) => end === null || end <= 844), `${parts.map((part, n) => `${part} ends at ${ends[n]}`).join(', ')}`);
};

// Sheets of A4 that a page may take: the client's page one, a clear call two, others four. Cameras have as many each.
const sheets = async (page, file) => {
  if (basename(file) === 'delivery.html') return 1;
  const calls = await page.$$eval('main > .call, .camera > .call', (all) => all.map((call) => call.className));
  return calls.reduce((sum, call) => sum + (call.includes('clear') ? 2 : 4), 0) || 60;
};

// The strip is told apart by who sees no red, no green or no colour: each kind of mark is lighter or darker than
// good frames by at least this ratio of luminances (common practice, no source; WCAG 2.2 asks 3:1 of a mark against
// its ground alone, and axe looks after that).
const APART = 1.8;
const withoutColour = async (page, name) => {
  const kinds = await page.$$eval('.glance', (all) => all.flatMap((glance) => {
    const fill = (kind) => glance.querySelector(`.lane.${kind} path`);
    return ['held', 'fault', 'caution'].filter(fill).map((kind) => [kind, getComputedStyle(fill(kind)).fill]);
  }));
  const deficiencies = ['deuteranopia', 'protanopia', 'tritanopia', 'achromatopsia'];
  // The matrices that the browser itself applies: swatches on a bare page are drawn and read back.
  const seen = async (colours, deficiency) => {
    const bare = await page.browser().newPage();
    await bare.setViewport({ width: 10 * colours.length, height: 10 });
    await bare.setContent(`<body style="margin:0;display:flex">${colours.map((c) => `<i style="background:${c};width:10px;height:10px"></i>`).join('')}`);
    await bare.emulateVisionDeficiency(deficiency);
    const png = Buffer.from(await bare.screenshot()).toString('base64');
    const read = await page.browser().newPage();
    const luminances = await read.evaluate(async (source, count) => {
      const image = new Image();
      image.src = `data:image/png;base64,${source}`;
      await image.decode();
      const canvas = new OffscreenCanvas(image.width, image.height).getContext('2d');
      canvas.drawImage(image, 0, 0);
      const linear = (v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4);
      return Array.from({ length: count }, (_, k) => {
        const [r, g, b] = canvas.getImageData(10 * k + 5, 5, 1, 1).data;
        return 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
      });
    }, png, colours.length);
    await bare.close();
    await read.close();
    return luminances;
  };
  const held = kinds.find(([kind]) => kind === 'held');
  const marks = kinds.filter(([kind], at) => kind !== 'held' && kinds.findIndex((k) => k[0] === kind) === at);
  if (!held || marks.length === 0) return;
  for (const deficiency of deficiencies) {
    const [good, ...others] = await seen([held, ...marks].map((k) => k[1]), deficiency);
    others.forEach((other, at) => {
      const ratio = (Math.max(good, other) + 0.05) / (Math.min(good, other) + 0.05);
      check(`${name}: ${marks[at][0]} beside good frames in ${deficiency}`, ratio >= APART, `${ratio.toFixed(2)}`);
    });
  }
};

// One page at one width in one scheme.
const view = async (page, file, short, bytes, width, scheme) => {
  const name = `${short}, ${width} px, ${scheme}`;
  const errors = [], requests = [];
  page.on('console', (message) => { if (['error', 'warn'].includes(message.type())) errors.push(message.text()); });
  page.on('pageerror', (error) => errors.push(error.message));
  page.on('request', (request) => {
    const url = request.url();
    if (url !== 'file://' + encodeURI(file) && !url.startsWith('data:')) requests.push(url);
  });
  await page.setViewport({ width, height: width < 600 ? 844 : 900 });
  await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }]);
  await page.goto('file://' + encodeURI(file), { waitUntil: 'load' });
  const took = await page.evaluate(() => performance.getEntriesByType('navigation')[0].loadEventStart);
  check(`${name}: there within ${SOON_MS} ms`, took < SOON_MS, `${Math.round(took)} ms`);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  check(`${name}: no sideways scroll`, wide <= 0, `${wide} px`);
  const cameras = await page.$('.camera');
  if (width < 600 && basename(file) === 'report.html' && !cameras) await firstScreen(page, name);
  await hours(page, name, short);
  if (width === 1280) await withoutColour(page, name);
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => axe.run(document, { resultTypes: ['violations'] }));
  const told = violations.map((v) => `${v.id} (${v.nodes.length}): ${v.nodes[0].html.slice(0, 160)} ${v.nodes[0].failureSummary}`);
  check(`${name}: accessible`, violations.length === 0, told.join('\n  '));
  await firstAndLast(page, name);
  await runThrough(page, name);
  check(`${name}: no error`, errors.length === 0, errors.join('; '));
  check(`${name}: no request`, requests.length === 0, requests.join('; '));
  if (shots) await page.screenshot({ path: join(shots, `${short.replaceAll('/', '-')}-${width}-${scheme}.png`), fullPage: true });
  if (width === 1280 && scheme === 'light') {
    for (const format of ['A4', 'Letter']) {
      const pdf = Buffer.from(await page.pdf({ format, printBackground: true, preferCSSPageSize: false })).toString('latin1');
      const pages = (pdf.match(/\/Type\s*\/Page[^s]/g) ?? []).length;
      const most = await sheets(page, file) + (format === 'Letter' ? 1 : 0);
      check(`${name}: printed on ${format}`, pages > 0 && pages <= most, `${pages} pages`);
      console.log(`${short}: ${bytes} bytes, ${Math.round(took)} ms, ${pages} pages of ${format}`);
    }
  }
};

const launch = () => puppeteer.launch({ executablePath: BROWSER, args: FLAGS, headless: true });
let browser = await launch();
for (const file of args.map((f) => resolve(f))) {
  const short = join(basename(dirname(file)), basename(file));
  const bytes = (await readFile(file)).length;
  check(`${short}: under 3 MB`, bytes < LARGEST, `${bytes} bytes`);
  for (const width of WIDTHS) {
    for (const scheme of SCHEMES) {
      // A browser that the machine itself took away is started again, three times at most, before that is believed.
      for (let left = 3; ; left -= 1) {
        const counts = [passed, failed];
        try {
          if (!browser.connected) browser = await launch();
          const page = await browser.newPage();
          await view(page, file, short, bytes, width, scheme);
          await page.close();
          break;
        } catch (error) {
          [passed, failed] = counts;
          const { exitCode, signalCode } = browser.process() ?? {};
          console.log(`${short}, ${width} px, ${scheme}: the browser was lost (${error.message}; ${signalCode ?? exitCode})`);
          await browser.close().catch(() => {});
          if (left === 0) {
            check(`${short}, ${width} px, ${scheme}: a browser that stays`, false, error.message);
            break;
          }
        }
      }
    }
  }
}
if (!browser.connected) browser = await launch();
// Without scripts everything is there to read.
const page = await browser.newPage();
await page.setJavaScriptEnabled(false);
await page.goto('file://' + encodeURI(resolve(args[0])), { waitUntil: 'load' });
const text = await page.$eval('body', (body) => body.innerText);
check('read without scripts', text.includes('The run') && text.includes('What happened') || text.includes('Checksums'));
check('no empty control without scripts', (await page.$$('button, input')).length === 0);
await browser.close();
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
