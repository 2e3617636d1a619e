// Sources by stations, one shape a take. One cell is in the tab order; arrow keys walk the table.

const SHAPES = { good: "●", usable: "◐", doubtful: "▲", missing: "○", made: "●" };

const STYLE = `
.rw-takes { border-collapse: collapse; font-size: 12px; line-height: 1; }
.rw-takes th { font-weight: 500; text-align: left; padding: 0 8px 0 0; white-space: nowrap; }
.rw-takes thead th { height: 56px; vertical-align: bottom; padding: 0 0 4px; width: 24px;
  color: var(--rw-quiet); }
.rw-takes thead th span { writing-mode: vertical-rl; transform: rotate(180deg); }
.rw-takes tbody th { font-weight: 600; }
.rw-takes td { padding: 0; }
.rw-takes td.count { color: var(--rw-quiet); padding-left: 8px; white-space: nowrap; }
.rw-takes button { width: 24px; height: 17px; border: 1px solid transparent; background: none;
  padding: 0; font: inherit; cursor: pointer; color: var(--rw-quiet); border-radius: 3px; }
.rw-takes button:hover { background: var(--rw-raised); }
.rw-takes button.chosen { border-color: var(--rw-text); background: var(--rw-raised); }
.rw-takes button:focus-visible { outline: 2px solid var(--rw-accent); outline-offset: -1px; }
.rw-takes .good { color: var(--rw-good); }
.rw-takes .usable, .rw-takes .made { color: var(--rw-text); }
.rw-takes .doubtful { color: var(--rw-doubt); }
`;

function addStyle() {
  if (document.getElementById("rw-takes-style")) return;
  const style = document.createElement("style");
  style.id = "rw-takes-style";
  style.textContent = STYLE;
  document.head.appendChild(style);
}

const STEPS = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };

export default {
  template: `
    <table class="rw-takes" role="grid" :aria-label="name" @keydown="walk">
      <thead><tr><td></td><th v-for="s in stations" :key="s" scope="col"><span>{{ s }}</span></th></tr>
      </thead>
      <tbody>
        <tr v-for="(line, row) in lines" :key="line.source">
          <th scope="row">{{ line.label }}</th>
          <td v-for="(cell, column) in line.cells" :key="column" role="gridcell">
            <button type="button" :class="[cell.worth, { chosen: isChosen(line, column) }]"
              :tabindex="row === at[0] && column === at[1] ? 0 : -1"
              :title="line.label + ' at ' + stations[column] + ': ' + cell.says"
              :aria-label="line.label + ' at ' + stations[column] + ', ' + cell.worth"
              :aria-pressed="isChosen(line, column) ? 'true' : 'false'"
              :ref="'cell-' + row + '-' + column"
              @click="choose(row, column)">{{ shapes[cell.worth] }}</button>
          </td>
          <td class="count">{{ line.count }}</td>
        </tr>
      </tbody>
    </table>`,
  props: { name: String, stations: Array, lines: Array, chosen: Array },
  data: () => ({ at: [0, 0], shapes: SHAPES }),
  mounted: addStyle,
  methods: {
    isChosen(line, column) {
      return this.chosen[0] === line.source && this.chosen[1] === this.stations[column];
    },
    choose(row, column) {
      this.at = [row, column];
      this.$emit("choose", { source: this.lines[row].source, station: this.stations[column] });
    },
    walk(event) {
      if (event.key.toLowerCase() === "r" && !event.ctrlKey && !event.metaKey && !event.altKey) {
        event.preventDefault();
        const [row, column] = this.at;
        this.$emit("redo", { source: this.lines[row].source, station: this.stations[column] });
        return;
      }
      const step = STEPS[event.key];
      if (!step) return;
      event.preventDefault();
      const row = Math.min(Math.max(this.at[0] + step[0], 0), this.lines.length - 1);
      const column = Math.min(Math.max(this.at[1] + step[1], 0), this.stations.length - 1);
      this.choose(row, column);
      const cell = this.$refs[`cell-${row}-${column}`];
      (Array.isArray(cell) ? cell[0] : cell).focus();
    },
  },
};
