// The pages' own script: one clock for the now line and every countdown, the
// watch over the picture's age, and presses that are sent once. It decides
// nothing about seams or booths; silence and doubt become HOLD.
(() => {
	'use strict';
	const page = document.documentElement;
	const byId = (id) => document.getElementById(id);
	const isStatic = page.hasAttribute('data-static');

	const HOLD_MS = 1800; // no word for so long: no gate is believed to be CLEAR
	const WATCH_MS = 100; // so often is looked; with it HOLD comes within two seconds
	const SILENCE_MS = 5000; // no word for so long: the picture is stale
	const RELOAD_MS = 12000; // and for so long: try a fresh page
	const REST_MS = 700; // a step that has just come up takes no press yet

	// The shop's moment: told by the server, carried on by our own timer.
	let baseNow = Date.parse(page.dataset.now);
	let baseAt = performance.now();
	let speed = Number(page.dataset.speed);
	if (!Number.isFinite(speed) || speed <= 0) speed = 1;
	const shopNow = () => baseNow + (performance.now() - baseAt) * speed;

	// ---- Clocks ----------------------------------------------------------

	const setText = (el, text) => { if (el.textContent !== text) el.textContent = text; };
	const setAttr = (el, name, value) => { if (el.getAttribute(name) !== value) el.setAttribute(name, value); };

	function minSec(ms) {
		const s = Math.max(0, Math.floor(ms / 1000));
		const two = (n) => String(n).padStart(2, '0');
		const h = Math.floor(s / 3600);
		return h > 0 ? h + ':' + two(Math.floor(s / 60) % 60) + ':' + two(s % 60) : Math.floor(s / 60) + ':' + two(s % 60);
	}

	// The wall clock runs on from the time that the server printed, so that
	// the shop's time zone need not be known here.
	const clock = byId('clock');
	let clockBase = null;
	if (clock) {
		const [h, m] = clock.textContent.trim().split(':').map(Number);
		const into = Date.parse(clock.getAttribute('datetime')) % 60000;
		clockBase = { minute: h * 60 + m, at: Date.parse(clock.getAttribute('datetime')) - into };
	}

	function moveClock(now) {
		if (!clock || !Number.isFinite(clockBase.at)) return;
		const gone = Math.floor((now - clockBase.at) / 60000);
		const m = (((clockBase.minute + gone) % 1440) + 1440) % 1440;
		setText(clock, String(Math.floor(m / 60)).padStart(2, '0') + ':' + String(m % 60).padStart(2, '0'));
	}

	function moveNowLine(now) {
		const svg = byId('nowline');
		if (!svg) return;
		const from = Date.parse(svg.dataset.from), to = Date.parse(svg.dataset.to);
		const line = svg.querySelector('line');
		if (!(to > from) || !line) return;
		const x = 100 * (now - from) / (to - from);
		line.classList.toggle('off', x < 0 || x > 100);
		const at = Math.min(100, Math.max(0, x)).toFixed(2) + '%';
		setAttr(line, 'x1', at);
		setAttr(line, 'x2', at);
	}

	function moveNozzle(now) {
		const box = byId('nozzle');
		if (!box || !box.dataset.until) return;
		const left = Date.parse(box.dataset.until) - now;
		const whole = Number(box.dataset.whole) * 1000;
		const circle = box.querySelector('.ring-left');
		if (circle && whole > 0) {
			setAttr(circle, 'stroke-dasharray', Math.min(100, Math.max(0, 100 * left / whole)).toFixed(1) + ' 100');
		}
		if (left <= 0 && box.classList.contains('nozzle-good')) {
			box.classList.replace('nozzle-good', 'nozzle-may');
		}
	}

	function tick() {
		const now = shopNow();
		moveClock(now);
		moveNowLine(now);
		moveNozzle(now);
		for (const el of document.querySelectorAll('span[data-until], text[data-until]')) {
			setText(el, minSec(Date.parse(el.dataset.until) - now));
		}
		for (const el of document.querySelectorAll('span[data-since]')) {
			setText(el, ageText(Math.max(0, now - Date.parse(el.dataset.since)) / 1000) + ' ago');
		}
		watch();
	}

	// ---- The picture's age -----------------------------------------------

	let heardAt = performance.now(); // when the last word came
	let behind = 0; // seconds that the server's own picture is old
	let serverLive = !page.classList.contains('stale');
	let lastBeat = 0;
	let advanced = 0; // beats that advanced, one after the other
	let reloadAt = RELOAD_MS;

	function ageText(s) {
		if (s < 120) return Math.floor(s) + ' s';
		if (s < 7200) return Math.floor(s / 60) + ' min';
		if (s < 172800) return Math.floor(s / 3600) + ' h';
		return Math.floor(s / 86400) + ' days';
	}

	function watch() {
		const silent = performance.now() - heardAt;
		const stale = silent > SILENCE_MS || !serverLive;
		page.classList.toggle('stale', stale);
		if (stale || silent > HOLD_MS) {
			advanced = 0;
			page.classList.add('unproven');
		}
		if (stale) {
			setText(byId('band-age'), ageText(silent / 1000 + behind));
			setText(byId('band-why'), silent > SILENCE_MS ? 'No word: see whether the shop\'s program runs.' : byId('band-why').textContent);
			tryAgain(silent);
		} else {
			reloadAt = RELOAD_MS;
		}
		holdStart(stale || page.classList.contains('unproven'));
		holdSheets(stale);
	}

	// Nor is anything behind the booth's fold-outs, while the picture is old.
	function holdSheets(stale) {
		for (const e of document.querySelectorAll('.booth-foot summary, .booth-foot .sheet button')) {
			if (stale) setAttr(e, 'aria-disabled', 'true');
			else e.removeAttribute('aria-disabled');
		}
	}

	// Start of spraying is not offered on a picture that may be old.
	function holdStart(doubt) {
		for (const b of document.querySelectorAll('[data-live-only] button')) {
			setAttr(b, 'aria-disabled', doubt ? 'true' : 'false');
		}
	}

	// A stream that never opened, or a server that came back with other pages,
	// needs a fresh page; one with something half filled in is left alone.
	function tryAgain(silent) {
		if (silent < reloadAt || busy()) return;
		reloadAt = silent + RELOAD_MS;
		fetch(location.href, { method: 'HEAD', cache: 'no-store' })
			.then((r) => { if (r.ok && performance.now() - heardAt > SILENCE_MS && !busy()) location.reload(); })
			.catch(() => { /* still down: the band says so */ });
	}

	const busy = () => sending || document.querySelector('details[open]') !== null;

	function onBeat(data) {
		const b = JSON.parse(data);
		heardAt = performance.now();
		serverLive = b.live === true;
		behind = serverLive ? 0 : b.age;
		const at = Date.parse(b.now);
		if (Number.isFinite(at)) {
			baseNow = at;
			baseAt = performance.now();
			if (b.speed > 0) speed = b.speed;
		}
		if (!serverLive) setText(byId('band-why'), b.trouble || 'The screens are behind what was told.');
		advanced = b.n > lastBeat || b.n === 1 ? advanced + 1 : 0;
		lastBeat = b.n;
		watch();
		// CLEAR is believed after two beats that advance.
		if (serverLive && advanced >= 2) page.classList.remove('unproven');
		holdStart(page.classList.contains('stale') || page.classList.contains('unproven'));
		if (b.build !== page.dataset.build && !busy()) location.reload();
	}

	// ---- Presses -----------------------------------------------------------

	let sending = false;
	let shownAt = performance.now();
	let step = stepNow();

	function stepNow() {
		const c = document.querySelector('#next input[name=kind]');
		return c ? c.value : '';
	}

	function say(text) {
		const t = byId('trouble');
		if (t) setText(t, text);
	}

	async function press(form) {
		const body = new URLSearchParams(new FormData(form));
		sending = true;
		page.classList.add('sending');
		say('');
		try {
			const r = await fetch(form.action, { method: 'POST', body, headers: { Accept: 'application/json' }, cache: 'no-store' });
			const answer = await r.json();
			if (r.ok) {
				location.assign(answer.go);
				return; // sending stays: this page takes no further press
			}
			say([answer.heading + ':', answer.message, answer.hint, answer.kept].filter(Boolean).join(' '));
		} catch {
			say('Not confirmed: the server did not answer. Press again when the page is live; it takes effect once.');
		}
		sending = false;
		page.classList.remove('sending');
	}

	document.addEventListener('submit', (ev) => {
		const form = ev.target;
		if (!form.matches('form.press')) return;
		ev.preventDefault();
		if (isStatic || sending) return;
		const button = ev.submitter;
		if (button && button.getAttribute('aria-disabled') === 'true') {
			say('The picture is not confirmed live: wait for it, then press again.');
			return;
		}
		// The second tap of a double press must not confirm the step that has
		// just come up in its place.
		if (form.closest('#next') && performance.now() - shownAt < REST_MS) return;
		press(form);
	});

	document.addEventListener('click', (ev) => {
		const fold = ev.target.closest('summary[aria-disabled="true"]');
		if (!fold || fold.parentElement.open) return; // what stands open may be closed
		ev.preventDefault();
		say('The picture is not live: wait for it, then press again.');
	});

	// What a person has open is not pulled away from under the hand.
	document.addEventListener('toggle', (ev) => {
		const d = ev.target;
		const part = d.closest('#else, #override, #act, #cautions');
		if (!part) return;
		if (d.open) part.setAttribute('hx-morph-skip', '');
		else part.removeAttribute('hx-morph-skip');
	}, true);

	document.addEventListener('focusin', (ev) => {
		if (ev.target.matches('#next input, #next select')) byId('next').setAttribute('hx-morph-skip', '');
	});
	document.addEventListener('focusout', () => {
		const next = byId('next');
		if (next) next.removeAttribute('hx-morph-skip');
	});

	// ---- Start ---------------------------------------------------------------

	if (isStatic) return;
	const live = byId('live');
	if (live) {
		live.addEventListener('beat', (ev) => onBeat(ev.detail.data));
		live.addEventListener('htmx:sse:after:message', () => {
			heardAt = performance.now();
			if (stepNow() !== step) {
				step = stepNow();
				shownAt = performance.now();
			}
			tick();
		});
	}
	// A page that comes back out of the browser's memory is as old as it looks.
	window.addEventListener('pageshow', (ev) => { if (ev.persisted) location.reload(); });
	setInterval(tick, 250);
	setInterval(watch, WATCH_MS);
	tick();
})();
