'use strict';
// Adds a cursor along the run, and a closer look. Everything can be read without it.
(() => {
  const run = document.getElementById('run');
  const place = run && run.querySelector('.cursor');
  const charts = run ? [...run.querySelectorAll('svg.data')] : [];
  if (!place || !charts.length) return;
  const list = (key) => run.dataset[key].split('\n');
  const names = list('names'), clocks = list('clocks'), slots = list('slots');
  const total = names.length;
  if (total < 2) return;
  const plots = [...run.querySelectorAll('.plot')].map((figure) => ({
    title: figure.querySelector('h3').firstChild.data.trim(),
    told: figure.dataset.told.split('\n'),
    times: figure.querySelector('.times'),
  }));
  let from = 0, to = total, at = 0;

  const make = (name, text, parent) => {
    const element = document.createElement(name);
    if (text) element.textContent = text;
    parent.append(element);
    return element;
  };
  const label = make('label', 'Look along the run', place);
  const slider = make('input', '', label);
  slider.type = 'range';
  slider.min = 0;
  slider.max = total - 1;
  slider.value = 0;
  const told = make('output', '', place);
  const buttons = make('div', '', place);
  buttons.className = 'buttons';
  const button = (text, act) => {
    const one = make('button', text, buttons);
    one.type = 'button';
    one.addEventListener('click', act);
    return one;
  };
  const nearer = button('Closer', () => zoom((to - from) / 3));
  const wider = button('Wider', () => zoom((to - from) * 3));
  const whole = button('Whole run', () => zoom(total));

  const needles = charts.map((chart) => {
    const line = document.createElementNS('http://www.w3.org/2000/svg', 'line');
    line.setAttribute('class', 'needle');
    line.setAttribute('y1', 0);
    line.setAttribute('y2', 1000);
    chart.append(line);
    return line;
  });

  const before = (list, n) => {
    while (n > 0 && !list[n]) n -= 1;
    return list[n];
  };
  const show = () => {
    slider.value = at;
    for (const needle of needles) {
      needle.setAttribute('x1', at + 0.5);
      needle.setAttribute('x2', at + 0.5);
    }
    const parts = names[at] ? [names[at], clocks[at], slots[at] && 'slot ' + slots[at]] : ['no frame here', 'after ' + before(names, at)];
    for (const plot of plots) if (plot.told[at]) parts.push(plot.title.toLowerCase() + ' ' + plot.told[at]);
    told.textContent = parts.filter(Boolean).join(' · ');
    slider.setAttribute('aria-valuetext', told.textContent);
  };
  const zoom = (span) => {
    span = Math.min(total, Math.max(Math.min(total, 12), Math.round(span)));
    from = Math.max(0, Math.min(total - span, Math.round(at - span / 2)));
    to = from + span;
    frame();
  };
  const frame = () => {
    for (const chart of charts) {
      const height = chart.getAttribute('viewBox').split(' ')[3];
      chart.setAttribute('viewBox', from + ' 0 ' + (to - from) + ' ' + height);
    }
    for (const plot of plots) {
      const texts = [...plot.times.children];
      texts.forEach((text, n) => {
        const share = parseFloat(text.getAttribute('x')) / 100;
        const column = Math.round(from + share * (to - from - 1));
        if (from === 0 && to === total) text.textContent = text.dataset.whole || text.textContent;
        else {
          text.dataset.whole = text.dataset.whole || text.textContent;
          text.textContent = before(clocks, column);
        }
      });
    }
    nearer.disabled = to - from <= 12;
    wider.disabled = whole.disabled = to - from >= total;
    show();
  };
  slider.addEventListener('input', () => {
    at = Number(slider.value);
    if (at < from || at >= to) zoom(to - from);
    show();
  });
  for (const chart of charts) {
    chart.addEventListener('pointermove', (event) => {
      const box = chart.getBoundingClientRect();
      const share = Math.min(0.9999, Math.max(0, (event.clientX - box.left) / box.width));
      at = Math.floor(from + share * (to - from));
      show();
    });
  }
  frame();
})();

// The run-through: pictures that wait in a template, stepped, scrubbed and played. It never plays by itself.
(() => {
  const player = document.querySelector('#run-through .player');
  const waiting = document.querySelector('#run-through template');
  if (!player || !waiting) return;
  const ticks = [...waiting.content.querySelectorAll('i')].map(({ dataset, firstElementChild }) => ({
    ...dataset, step: Number(dataset.step ?? 1), missing: !dataset.at,
    picture: firstElementChild || document.querySelector('.filmstrip img[data-at="' + dataset.at + '"]'),
  }));
  const problems = [...waiting.content.querySelectorAll('b')].map((sentence) => sentence.textContent);
  if (!ticks.length) return;
  const last = ticks.length - 1;
  // Pictures a second where frames are skipped: no more than three flashes (WCAG 2.2, SC 2.3.1), each of two changes.
  const SKIPPING = 6;
  const make = (name, text, parent) => {
    const element = document.createElement(name);
    if (text) element.textContent = text;
    parent.append(element);
    return element;
  };
  const build = () => {
    player.textContent = '';
    const { fps, beside } = player.dataset;
    const stops = player.dataset.stops.split(' ').filter(Boolean).map(Number);
    // Whoever asks for less motion begins at half speed.
    let at = 0, timer = 0, due = 0, loops = false, slow = matchMedia('(prefers-reduced-motion: reduce)').matches;

    const screen = make('div', '', player);
    screen.className = 'frame';
    const image = make('img', '', screen);
    image.alt = '';
    image.decoding = 'sync';
    const blank = make('p', '', screen);
    const told = make('output', '', player);
    const label = make('label', 'Place in the run', player);
    const slider = make('input', '', label);
    slider.type = 'range';
    slider.min = 0;
    slider.max = last;
    let buttons;
    const row = () => {
      buttons = make('div', '', player);
      buttons.className = 'buttons';
    };
    const button = (text, act) => {
      const one = make('button', text, buttons);
      one.type = 'button';
      one.addEventListener('click', act);
      return one;
    };
    const show = (n) => {
      at = Math.min(last, Math.max(0, n));
      const tick = ticks[at];
      image.hidden = tick.missing || !tick.picture;
      if (!image.hidden) image.src = tick.picture.src;
      blank.textContent = tick.missing ? 'missing' : tick.picture ? '' : 'no picture of this frame';
      screen.classList.toggle('missing', tick.missing);
      const words = [
        tick.name || 'no frame', tick.clock && (tick.missing ? 'due ' : '') + tick.clock, tick.slot && 'slot ' + tick.slot,
        tick.step > 1 && 'one of ' + tick.step,
      ];
      told.textContent = words.filter(Boolean).join(' · ');
      slider.value = at;
      slider.setAttribute('aria-valuetext', told.textContent);
      if (!stops.length) return;
      const stop = stops.indexOf(at) + 1;
      screen.classList.toggle('wrong', stop > 0);
      const place = stop ? 'Problem place ' + stop + ' of ' + stops.length + '. ' : '';
      problem.textContent = place + (problems[tick.problem] ?? '');
    };
    const stop = () => {
      clearTimeout(timer);
      timer = 0;
      play.textContent = 'Play';
    };
    // What is looped: what stands around the nearest place of a problem, or the whole run.
    const around = () => {
      const near = stops.filter((n) => Math.abs(n - at) <= beside).sort((a, b) => Math.abs(a - at) - Math.abs(b - at))[0];
      return near === undefined ? [0, last] : [Math.max(0, near - beside), Math.min(last, near + Number(beside))];
    };
    const held = () => (slow ? 2000 : 1000) * Math.min(ticks[at].step / fps, Math.max(1 / fps, 1 / SKIPPING));
    const play = (row(), button('Play', () => {
      if (timer) return stop();
      if (at >= last) show(0);
      let [from, to] = around();
      const go = () => {
        if (loops ? at >= to : at >= last) {
          if (!loops) return stop();
          show(from);
        } else show(at + 1);
        wait();
      };
      // No picture is left out: where the browser is late, the run is.
      const wait = () => {
        due = Math.max(due + held(), performance.now());
        timer = setTimeout(go, due - performance.now());
      };
      due = performance.now();
      wait();
      play.textContent = 'Stop';
    }));
    play.className = 'play';
    const toggle = (text, on, act) => {
      const one = button(text, () => {
        one.setAttribute('aria-pressed', act());
      });
      one.setAttribute('aria-pressed', on);
    };
    toggle('Half speed', slow, () => (slow = !slow));
    toggle('Loop', loops, () => {
      stop();
      return (loops = !loops);
    });
    const go = (which) => () => {
      stop();
      show(which());
    };
    row();
    button('Previous frame', go(() => at - 1));
    button('Next frame', go(() => at + 1));
    if (stops.length) {
      button('Previous problem', go(() => stops.findLast((n) => n < at) ?? stops.at(-1)));
      button('Next problem', go(() => stops.find((n) => n > at) ?? stops[0]));
    }
    const problem = make('p', '', player);
    problem.className = 'problem';
    const skips = ticks.some((tick) => tick.step > 1) ? ' Where frames are skipped, at most ' + SKIPPING + ' pictures a second.' : '';
    const loop = stops.length ? ' Loop repeats what is around the problem at hand, or the whole run.' : '';
    make('p', 'Plays at ' + fps + ' frames a second.' + skips + loop, player).className = 'fine';
    slider.addEventListener('input', go(() => Number(slider.value)));
    show(stops[0] ?? 0);
  };
  if (player.dataset.flashes === 'yes') {
    const open = make('button', 'Show the run-through all the same', player);
    open.type = 'button';
    open.addEventListener('click', build);
  } else build();
})();
