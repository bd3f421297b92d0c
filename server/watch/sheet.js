// The sheet's text: each line as it stands in the file, what the check says beneath its line, and in every table the row
// that is being played. Lines that stay as they are keep their elements, so a save costs what it changed.

export class SheetText {
  constructor(list, onTime, onOpen) {
    Object.assign(this, { list, onTime, onOpen, lines: [], blocks: new Map(), timed: new Map(), said: '' });
    list.addEventListener('click', event => {
      const line = [...list.children].indexOf(event.target.closest('li')), row = this.timed.get(line);
      if (event.target.closest('.number, .said')) this.onOpen(line);
      else if (row) this.onTime(row.frames, row.block);
    });
  }

  show(sheet) {
    const { lines } = this, texts = sheet.text;
    let head = 0, tail = 0;
    while (head < lines.length && head < texts.length && lines[head].text === texts[head]) head++;
    while (tail < lines.length - head && tail < texts.length - head && lines.at(-1 - tail).text === texts.at(-1 - tail)) tail++;
    const fresh = texts.slice(head, texts.length - tail).map(text => ({ text, item: this.line(text) }));
    const gone = lines.splice(head, lines.length - head - tail, ...fresh);
    for (const { item } of gone) item.remove();
    const next = lines[head + fresh.length]?.item ?? null;
    for (const { item } of fresh) this.list.insertBefore(item, next);
    lines.forEach(({ item }, i) => {
      const number = String(i + 1);
      if (item.firstChild.textContent !== number) item.firstChild.textContent = number;
    });
    if (gone.length || fresh.length) this.said = '';
    this.time(sheet.rows);
  }

  line(text) {
    const item = document.createElement('li'), number = document.createElement('span'), words = document.createElement('span');
    number.className = 'number';
    words.textContent = text || ' ';
    if (/^\s*#/.test(text)) words.className = 'comment';
    if (/^\S/.test(text) && text[0] !== '#') words.className = 'open';
    item.append(number, words);
    return item;
  }

  time(rows) {
    for (const { row } of [...this.blocks.values()].flat()) row.classList.remove('now', 'timed');
    this.timed = new Map(rows.map(row => [row.line, row]));
    this.blocks = new Map();
    for (const { line, block, frames, period } of rows) {
      const row = this.lines[line].item;
      row.classList.add('timed');
      if (!this.blocks.has(block)) this.blocks.set(block, []);
      this.blocks.get(block).push({ row, frames, period, line });
    }
  }

  // say writes what the check says beneath the lines.
  say(findings) {
    const said = JSON.stringify(findings);
    if (said === this.said) return;
    this.said = said;
    for (const note of this.list.querySelectorAll('.said')) note.remove();
    for (const { line, level, rule, message } of findings) {
      const note = document.createElement('button');
      note.className = 'said';
      note.textContent = `${level} ${rule}: ${message}`;
      this.lines[Math.min(line, this.lines.length - 1)].item.append(note);
    }
  }

  // play marks the row of each table that is being played, and how far it has been.
  play(time) {
    for (const rows of this.blocks.values()) {
      const period = rows[0].period, within = ((time % period) + period) % period;
      let now = rows.length - 1;
      rows.forEach((row, i) => { if (row.frames <= within + 1e-6 && rows[0].frames <= within + 1e-6) now = i; });
      rows.forEach((row, i) => {
        if (row.now !== (i === now)) row.row.classList.toggle('now', row.now = i === now);
      });
      const from = rows[now].frames, next = now + 1 < rows.length ? rows[now + 1].frames : period + rows[0].frames;
      const gone = Math.round(Math.min(next > from ? (((within - from) % period) + period) % period / (next - from) : 1, 1) * 100);
      if (rows[now].gone !== gone) rows[now].row.style.setProperty('--gone', `${rows[now].gone = gone}%`);
    }
  }
}
