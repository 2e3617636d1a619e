// Outputs with their levels: one row is chosen, and keys move, trim, play, measure and accept.

const STYLE = `
.rw-levels { width: 100%; border-collapse: collapse; font-size: 13px; }
.rw-levels-box { outline-offset: 2px; overflow: auto; max-height: 262px; position: relative; }
.rw-levels thead th { position: sticky; top: 0; background: var(--rw-panel); z-index: 1; }
.rw-levels th { font-weight: 500; color: var(--rw-quiet); text-align: right; padding: 2px 8px;
  white-space: nowrap; }
.rw-levels th.words, .rw-levels td.words { text-align: left; }
.rw-levels td { text-align: right; padding: 3px 8px; white-space: nowrap;
  border-top: 1px solid var(--rw-line); }
.rw-levels td.says { white-space: normal; text-align: left; color: var(--rw-doubt); padding-top: 0;
  border-top: 0; }
.rw-levels tr.line { cursor: pointer; }
.rw-levels tr.line:hover { background: var(--rw-raised); }
.rw-levels tr.chosen { background: var(--rw-raised); box-shadow: inset 3px 0 var(--rw-accent); }
.rw-levels .good { color: var(--rw-good); } .rw-levels .off { color: var(--rw-doubt); }
.rw-levels .none { color: var(--rw-quiet); }
.rw-levels td.asked { font-weight: 600; }
`;

const KEYS = { ArrowDown: "next", ArrowUp: "previous", n: "next", p: "previous", "+": "louder",
  "-": "softer", ArrowRight: "louder", ArrowLeft: "softer", Enter: "accept", " ": "play",
  m: "measure" };

function addStyle() {
  if (document.getElementById("rw-levels-style")) return;
  const style = document.createElement("style");
  style.id = "rw-levels-style";
  style.textContent = STYLE;
  document.head.appendChild(style);
}

export default {
  template: `
    <div class="rw-levels-box" role="group" tabindex="0" :aria-label="name + ', ' + said"
      aria-keyshortcuts="ArrowDown ArrowUp ArrowRight ArrowLeft Enter Space M" @keydown="key">
      <table class="rw-levels">
        <thead><tr><th class="words"></th><th>no.</th><th class="words">output</th>
          <th class="words">group</th><th>now, dB</th><th>wanted, dB</th><th>trim, dB</th>
          <th>asked, dB</th></tr></thead>
        <tbody><template v-for="row in rows" :key="row.drives">
          <tr class="line" :class="{ chosen: row.drives === chosen }" :data-drives="row.drives"
            :aria-current="row.drives === chosen ? 'true' : null" @click="choose(row.drives)">
            <td class="words" :class="row.tone">{{ row.shape }}</td><td>{{ row.number }}</td>
            <td class="words">{{ row.label }}</td><td class="words">{{ row.group }}</td>
            <td>{{ row.level }}</td><td>{{ row.wanted }}</td><td>{{ row.trim }}</td>
            <td class="asked">{{ row.asked }}</td></tr>
          <tr v-if="row.says"><td></td><td class="says" colspan="7">▲ {{ row.says }}</td></tr>
        </template></tbody>
      </table>
    </div>`,
  props: { name: String, rows: Array, chosen: String },
  mounted: addStyle,
  watch: {
    chosen() { this.$nextTick(this.reveal); },
  },
  computed: {
    said() {
      const row = this.rows.find((one) => one.drives === this.chosen);
      return row ? `${row.label}: ${row.words}` : "none chosen";
    },
  },
  methods: {
    // Scrolls the table alone, not the screen.
    reveal() {
      const line = this.$el.querySelector("tr.chosen");
      if (!line) return;
      const box = this.$el, head = box.querySelector("thead").offsetHeight;
      box.scrollTop = Math.min(Math.max(box.scrollTop, line.offsetTop + line.offsetHeight
        - box.clientHeight), line.offsetTop - head);
    },
    choose(drives) { this.$emit("key", { does: "choose", drives }); },
    key(event) {
      if (event.ctrlKey || event.altKey || event.metaKey) return;
      const does = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
      if (!does) return;
      event.preventDefault();
      event.stopPropagation();
      if (event.repeat && does !== "louder" && does !== "softer") return;
      this.$emit("key", { does, drives: this.chosen });
    },
  },
};
