// The desk's elements.
export const TEMPLATE = `
<div role="group" :aria-label="name">
  <div class="rg-head">
    <div class="rg-tools"><slot><span class="rg-name" :title="name">{{ name }}</span></slot></div>
  </div>
  <div class="rg-plot" ref="plot" tabindex="0" role="application" aria-roledescription="graph" :aria-label="says"
    :class="{ 'rg-dragging': panning }" @pointerdown="press" @pointermove="hover" @pointerup="release" @pointercancel="release"
    @pointerleave="leave" @dblclick="doubled" @keydown="key">
    <canvas ref="base"></canvas>
    <canvas ref="over"></canvas>
    <div class="rg-empty" v-if="empty">{{ empty }}</div>
    <div class="rg-box" v-if="box" :style="{ left: box[0] + 'px', top: box[1] + 'px', width: box[2] + 'px', height: box[3] + 'px' }"></div>
    <button type="button" v-for="thing in things" :key="thing.kind + thing.id" v-show="thing.seen" class="rg-thing"
      :class="['rg-' + thing.kind, { 'rg-locked': thing.locked, 'rg-held': thing.held, 'rg-flip': thing.flip, 'rg-chosen': thing.id === picked }]"
      :style="{ left: thing.px + 'px', top: thing.py + 'px', color: thing.ink }" role="slider" :aria-valuemin="thing.least" :aria-valuemax="thing.most"
      :aria-label="thing.label" :aria-valuenow="thing.value" :aria-valuetext="thing.text" :data-id="thing.id"
      @pointerdown.stop="take($event, thing)" @pointermove="carry($event, thing)" @pointerup.stop="drop($event, thing)"
      @pointercancel="drop($event, thing)" @lostpointercapture="drop($event, thing)" @keydown="nudge($event, thing)" @focus="pick(thing.id)" @dblclick.stop>
      <span class="rg-sign"></span><span class="rg-says">{{ thing.text }}</span>
    </button>
    <div class="rg-values" v-if="open" @pointerdown.stop @wheel.stop @dblclick.stop>
      <table><caption>{{ head }}</caption><tbody>
        <tr v-for="row in rows" :key="row.id" :class="{ 'rg-chosen': row.id === chosen }">
          <td><svg width="26" height="10" aria-hidden="true"><line x1="0" x2="26" y1="5" y2="5" :stroke="row.ink" stroke-width="2" :stroke-dasharray="row.dash" /></svg></td>
          <td><button type="button" class="rg-pick" @click="choose(row.id)" :aria-pressed="row.id === chosen">{{ row.label }}</button></td>
          <td>{{ row.value }}</td>
        </tr></tbody></table>
    </div>
  </div>
  <div class="rg-foot"><span class="rg-caption">{{ caption }}{{ between }}</span><span class="rg-reading">{{ read }}</span>
  <div class="rg-buttons">
    <button type="button" class="rg-tool" :aria-pressed="open" @click="open = !open" title="Values of all curves (V)">Values</button>
    <button type="button" class="rg-tool" :aria-pressed="boxing" @click="boxing = !boxing" title="Drag a box to zoom (Z, or Shift while dragging)">Box</button>
    <button type="button" class="rg-tool" @click="fit" title="Fit the vertical axis to the curves (F)">Fit</button>
    <button type="button" class="rg-tool" @click="reset_view" title="Whole view (Home, or double click)">Reset</button>
    <span class="rg-rule"></span>
    <button type="button" class="rg-tool" v-for="kind in ['svg', 'png', 'csv']" :key="kind" @click="export_as(kind)"
      :aria-label="'Save as ' + kind.toUpperCase()" :title="'Save as ' + kind.toUpperCase()">{{ kind.toUpperCase() }}</button>
  </div></div>
  <div class="rg-heard" aria-live="polite">{{ heard }}</div>
</div>`;
