// The sheet's text: each line as it stands in the file, what the check says beneath its line, and in every table the row
// that is being played.

export class SheetText {
  constructor(list) { this.list = list; }

  show(sheet, onTime) {
    this.list.replaceChildren();
    this.rows = [];
    this.blocks = new Map();
    const timed = new Map(sheet.rows.map(row => [row.line, row]));
    const said = Map.groupBy ? Map.groupBy(sheet.findings, f => f.line) : new Map();
    sheet.text.forEach((text, i) => {
      const line = document.createElement('li'), number = document.createElement('span'), words = document.createElement('span');
      number.className = 'number';
      number.textContent = i + 1;
      words.textContent = text || ' ';
      if (/^\s*#/.test(text)) words.className = 'comment';
      if (/^\S/.test(text) && text[0] !== '#') words.className = 'open';
      line.append(number, words);
      for (const finding of said.get(i) ?? []) {
        const note = document.createElement('span');
        note.className = 'said';
        note.textContent = `${finding.level} ${finding.rule}: ${finding.message}`;
        line.append(note);
      }
      const row = timed.get(i);
      if (row) {
        line.classList.add('timed');
        line.addEventListener('click', () => onTime(row.frames, row.block));
        if (!this.blocks.has(row.block)) this.blocks.set(row.block, []);
        this.blocks.get(row.block).push({ row: line, frames: row.frames, period: row.period });
      }
      this.list.append(line);
    });
  }

  // play marks the row of each table that is being played, and how far it has been.
  play(time) {
    for (const rows of this.blocks?.values() ?? []) {
      const period = rows[0].period, within = ((time % period) + period) % period;
      let now = rows.length - 1;
      rows.forEach((row, i) => { if (row.frames <= within + 1e-6 && rows[0].frames <= within + 1e-6) now = i; });
      rows.forEach((row, i) => {
        if (row.now !== (i === now)) row.row.classList.toggle('now', row.now = i === now);
      });
      const from = rows[now].frames, next = now + 1 < rows.length ? rows[now + 1].frames : period + rows[0].frames;
      const gone = next > from ? (((within - from) % period) + period) % period / (next - from) : 1;
      rows[now].row.style.setProperty('--gone', `${Math.round(Math.min(gone, 1) * 100)}%`);
    }
  }
}
