// The drawing's elements.
export const TEMPLATE = `
<div class="rw-plan" :data-plane="plane">
  <svg ref="svg" :width="width" :height="height" role="group" :aria-label="name"
       @pointermove="pointerMoves" @pointerup="pointerLeaves" @pointercancel="cancel"
       @pointerdown.self="choose('')">
    <clipPath :id="clip"><polygon :points="outlinePoints"/></clipPath>
    <polygon :points="outlinePoints" fill="var(--floor)" @pointerdown="floorPressed"
             :class="{ outlining }"/>
    <image v-if="mapImage && plane === 'plan'" :href="mapImage" v-bind="mapPlace"
           preserveAspectRatio="none" pointer-events="none"/>
    <line v-if="plane !== 'side'" v-bind="centreLine" stroke="var(--line)"
          stroke-dasharray="1 5" pointer-events="none"/>
    <polygon :points="outlinePoints" fill="none" stroke="var(--ink)" stroke-width="2"
             stroke-linejoin="miter" pointer-events="none"/>
    <g v-if="plane === 'plan'" pointer-events="none">
      <path v-if="wedge" :d="wedge" :clip-path="'url(#' + clip + ')'" fill="var(--accent)" fill-opacity=".14"
            stroke="var(--accent)" stroke-opacity=".55"/>
      <g v-for="arc in arcs" :key="arc.id">
        <path :d="arc.path" fill="none" stroke="var(--accent)" stroke-width="5"
              :stroke-opacity="arc.chosen ? 1 : .38"/>
        <path v-if="arc.within" :d="arc.dot" fill="var(--accent)" stroke="var(--floor)"/>
        <path v-else :d="arc.dot" fill="var(--warn)" stroke="var(--floor)"/>
      </g>
      <line v-if="ray" v-bind="ray" stroke="var(--ink)" stroke-width="1.2"
            stroke-dasharray="5 3"/>
    </g>
    <g v-else pointer-events="none">
      <line v-for="span in spans" :key="span.id" v-bind="span.line" stroke="var(--accent)"
            :stroke-width="span.chosen ? 9 : 5" :stroke-opacity="span.chosen ? .5 : .22"
            stroke-linecap="round"/>
    </g>
    <g pointer-events="none">
      <rect v-for="box in drawnBoxes" :key="'box' + box.name" v-bind="box" class="clear"/>
      <rect v-if="newBox" v-bind="newBox" class="clear new"/>
      <g v-for="spot in drawnSpots" :key="'spot' + spot.key"
         :transform="'translate(' + spot.x + ' ' + spot.y + ')'">
        <path v-if="spot.chosen" d="M0-10 10 0 0 10-10 0Z" class="spot chosen"/>
        <path v-else d="M-3.5 0H3.5M0-3.5V3.5" class="spot"/></g>
    </g>
    <g v-for="(path, i) in drawnPaths" :key="'path' + i" pointer-events="none">
      <polyline :points="path.points" fill="none" stroke="var(--unit)"
                :stroke-width="path.faint ? 1.6 : 2.6" :stroke-dasharray="path.faint ? '7 3' : ''"/>
    </g>
    <line v-for="(guide, i) in guides" :key="'guide' + i" v-bind="guide" stroke="var(--focus)"
          stroke-width="1" stroke-dasharray="4 3" pointer-events="none"/>
    <g v-for="item in drawn" :key="item.kind + item.id" :class="item.classes"
       :transform="item.move" :tabindex="item.id === tabStop ? 0 : -1" role="button"
       :aria-pressed="item.id === chosen" :aria-label="item.says" :data-id="item.id"
       @pointerdown="grab($event, item)" @keydown="keyed($event, item)" @focus="focused(item)">
      <title>{{ item.says }}</title>
      <circle r="15" fill="transparent"/>
      <g v-if="item.kind === 'seat'">
        <path v-if="plane === 'plan'" :d="seatShape(item)" stroke="var(--muted)"
              :fill="item.main ? 'var(--mainseat)' : 'var(--seat)'"
              :stroke-width="item.main ? 2 : 1"/>
        <g v-else><line x1="0" y1="0" x2="0" :y2="item.toFloor" stroke="var(--line)"/>
          <circle r="5" :fill="item.main ? 'var(--mainseat)' : 'var(--seat)'"
                  stroke="var(--muted)" :stroke-width="item.main ? 2 : 1"/></g>
        <circle v-if="item.main" r="2.4" fill="var(--ink)"/>
      </g>
      <g v-else-if="item.kind === 'subwoofer'">
        <rect x="-8.6" y="-8.6" width="17.2" height="17.2" rx="2.5" fill="var(--floor)"/>
        <rect x="-7" y="-7" width="14" height="14" rx="1.5" fill="var(--floor)"
              stroke="var(--sub)" stroke-width="2"/>
        <path v-if="item.mark === 'launches'" d="M-4-5V5M-1-4V4L11 0Z" fill="var(--sub)"
              stroke="var(--sub)" stroke-width="2" :transform="'rotate(' + item.turn + ')'"/>
        <path v-else-if="item.mark === 'absorbs'" d="M-7-7 7 7M7-7-7 7" stroke="var(--sub)"
              stroke-width="2"/>
        <circle v-else r="3.6" fill="var(--sub)"/></g>
      <g v-else-if="item.kind === 'clear'">
        <path d="M-6 0H6M0-6V6M-6 0-4-2M-6 0-4 2M6 0 4-2M6 0 4 2M0-6-2-4M0-6 2-4M0 6-2 4M0 6 2 4"
              fill="none" stroke="var(--ink)" stroke-width="1.4"/></g>
      <rect v-else-if="item.kind === 'corner'" x="-4" y="-4" width="8" height="8"
            fill="var(--floor)" stroke="var(--ink)" stroke-width="1.6"/>
      <g v-else-if="item.kind === 'station'">
        <rect v-if="item.held" x="-9" y="-9" width="18" height="18" fill="none"
              stroke="var(--ink)" stroke-width="1.6"/>
        <path v-if="item.mark === 'further'" d="M-6 0H6M0-6V6" stroke="var(--accent)"
              stroke-width="2.4"/>
        <path v-else-if="item.mark === 'doubt'" d="M0-7 6.5 5H-6.5Z" fill="var(--floor)"
              stroke="var(--warn)" stroke-width="2"/>
        <circle v-else r="5.5" :fill="item.mark === 'done' ? 'var(--accent)' : 'var(--floor)'"
                stroke="var(--accent)" stroke-width="2"
                :stroke-dasharray="item.mark === 'missing' ? '3 2' : ''"/>
        <path v-if="item.mark === 'done'" d="M-2.6 0-.6 2.2 2.8-2" fill="none"
              stroke="var(--floor)" stroke-width="1.5"/></g>
      <g v-else :transform="'rotate(' + item.turn + ')'">
        <path d="M-6-5H1L7-8V8L1 5H-6Z" stroke="var(--floor)" stroke-width="4.6"
              stroke-linejoin="round" fill="none"/>
        <path d="M-6-5H1L7-8V8L1 5H-6Z" stroke="var(--unit)" stroke-width="1.8"
              stroke-linejoin="round"
              :fill="item.kind === 'height' ? 'var(--floor)' : 'var(--unit)'"/></g>
      <circle class="ringed" :r="item.kind === 'seat' && plane === 'plan' ? seatHalf + 4 : 13"/>
      <path v-if="item.mark === 'out'" d="M9-17 16-5H2Z" fill="var(--warn)"
            stroke="var(--floor)" stroke-width="1.5"/>
    </g>
    <g pointer-events="none" aria-hidden="true">
      <text v-for="text in texts" :key="text.key" :x="text.x" :y="text.y" text-anchor="middle"
            :class="['halo', text.kind]" :font-weight="text.bold ? 650 : 400">{{ text.says }}</text>
      <text v-if="plane === 'plan'" :x="middle" :y="top - 7" text-anchor="middle"
            class="muted">front wall</text>
      <text v-if="plane === 'side'" :x="left - 14" :y="(top + bottom) / 2" text-anchor="middle"
            class="muted" :transform="'rotate(-90 ' + (left - 14) + ' ' + (top + bottom) / 2 + ')'"
            >front wall</text>
      <g :transform="'translate(' + left + ' ' + (height - 25) + ')'">
        <path :d="'M0-4V4M0 0H' + bar + 'M' + bar + '-4V4'" stroke="var(--muted)" fill="none"/>
        <text :x="bar + 6" y="4" class="muted">{{ units === 'ft' ? '3 ft' : '1 m' }}</text></g>
      <text v-if="readout" :x="width / 2" :y="height - 7" text-anchor="middle">{{ readout }}</text>
    </g>
  </svg>
</div>`;
