// Seen from above: which way a microphone looks, and by how much it is to be turned.

const STYLE = `
.rw-dial { width: 176px; height: 176px; flex: none; }
.rw-dial .ring { fill: none; stroke: var(--rw-edge); stroke-width: 1.5; }
.rw-dial .tick { stroke: var(--rw-edge); stroke-width: 1; }
.rw-dial .arc { fill: none; stroke: var(--rw-accent); stroke-width: 7; }
.rw-dial .now { stroke: var(--rw-text); stroke-width: 3; stroke-linecap: round; }
.rw-dial .goal { fill: var(--rw-accent); }
.rw-dial text { fill: var(--rw-text); font-size: 30px; font-weight: 600; text-anchor: middle; }
.rw-dial .small { font-size: 12px; font-weight: 400; fill: var(--rw-quiet); }
`;

function addStyle() {
  if (document.getElementById("rw-dial-style")) return;
  const style = document.createElement("style");
  style.id = "rw-dial-style";
  style.textContent = STYLE;
  document.head.appendChild(style);
}

// Angles are positive to the left, 0 ahead, which is up.
function at(degrees, radius) {
  const angle = (degrees * Math.PI) / 180;
  return [-radius * Math.sin(angle), -radius * Math.cos(angle)];
}

export default {
  template: `
    <svg class="rw-dial" viewBox="-100 -100 200 200" role="img" :aria-label="says">
      <circle class="ring" r="72" />
      <line v-for="(tick, number) in ticks" :key="number" class="tick" :x1="tick[0]" :y1="tick[1]"
        :x2="tick[2]" :y2="tick[3]" />
      <path class="goal" d="M 0 -74 l -9 -16 h 18 z" />
      <path v-if="turn !== 0" class="arc" :d="arc" />
      <line class="now" :x1="needle[0]" :y1="needle[1]" :x2="needle[2]" :y2="needle[3]" />
      <text y="10">{{ figure }}</text>
      <text class="small" y="30">{{ side }}</text>
    </svg>`,
  props: { turn: Number, says: String, figure: String, side: String },
  mounted: addStyle,
  computed: {
    ticks() {
      return Array.from({ length: 24 }, (_, number) => [
        ...at(number * 15, number % 6 ? 68 : 62), ...at(number * 15, 72)]);
    },
    // Where it looks now: turned away from ahead by what it is to be turned back.
    needle() { return [...at(-this.turn, 40), ...at(-this.turn, 70)]; },
    arc() {
      const [fromX, fromY] = at(-this.turn, 72);
      const large = Math.abs(this.turn) > 180 ? 1 : 0;
      return `M ${fromX} ${fromY} A 72 72 0 ${large} ${this.turn > 0 ? 0 : 1} 0 -72`;
    },
  },
};
