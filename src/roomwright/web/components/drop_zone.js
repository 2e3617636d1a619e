// Takes files or folders by drop or choice and posts each file by itself, three at a time.

const AT_ONCE = 3;

const STYLE = `
.rw-drop { border: 1.5px dashed var(--rw-edge, #7b858d); border-radius: 6px; padding: 4px 12px;
  display: flex; flex-wrap: wrap; gap: 8px 14px; align-items: center; width: 100%; }
.rw-drop.over { border-style: solid; background: color-mix(in srgb, currentColor 8%, transparent); }
.rw-drop p { margin: 0; flex: 1 1 22ch; font-size: 12px; }
.rw-drop button { font: inherit; color: inherit; background: none; border: 1px solid currentColor;
  border-radius: 4px; padding: 2px 10px; font-size: 12px; cursor: pointer; }
.rw-drop button:disabled { opacity: 0.5; cursor: default; }
.rw-drop button:focus-visible { outline: 2px solid currentColor; outline-offset: 2px; }
.rw-drop input { display: none; }
`;

function addStyle() {
  if (document.getElementById("rw-drop-style")) return;
  const style = document.createElement("style");
  style.id = "rw-drop-style";
  style.textContent = STYLE;
  document.head.appendChild(style);
}

function entries(reader) {
  return new Promise((resolve, reject) => reader.readEntries(resolve, reject));
}

function fileOf(entry) {
  return new Promise((resolve, reject) => entry.file(resolve, reject));
}

// All files below an entry, with their paths. A reader hands out a folder in portions.
async function below(entry, path) {
  if (entry.isFile) return [{ path, file: await fileOf(entry) }];
  const reader = entry.createReader();
  const found = [];
  for (;;) {
    const portion = await entries(reader);
    if (portion.length === 0) return found;
    for (const child of portion) {
      found.push(...(await below(child, path ? `${path}/${child.name}` : child.name)));
    }
  }
}

// The name of one folder dropped alone says nothing; those of several keep their files apart.
async function dropped(items) {
  const roots = items.map((item) => item.webkitGetAsEntry()).filter((entry) => entry);
  const alone = roots.length === 1;
  const found = await Promise.all(
    roots.map((root) => below(root, root.isDirectory && alone ? "" : root.name)),
  );
  return found.flat();
}

function chosen(files) {
  return [...files].map((file) => {
    const path = file.webkitRelativePath.split("/").slice(1).join("/");
    return { path: path || file.name, file };
  });
}

export default {
  template: `
    <div class="rw-drop" :class="{over}" role="group" :aria-label="says" @dragover.prevent="over = !busy"
        @dragleave="over = false" @drop.prevent="drop">
      <p aria-live="polite">{{ busy || says }}</p>
      <button type="button" :disabled="!!busy" @click="$refs.folder.click()">Choose a folder</button>
      <button type="button" :disabled="!!busy" @click="$refs.files.click()">Choose files</button>
      <input ref="folder" type="file" webkitdirectory tabindex="-1" aria-label="Folder of recordings"
        @change="choose">
      <input ref="files" type="file" multiple :accept="suffixes.join(',')" tabindex="-1"
        aria-label="Recordings" @change="choose">
    </div>`,
  props: { url: String, says: String, suffixes: Array },
  data: () => ({ over: false, busy: "" }),
  mounted: addStyle,
  methods: {
    async drop(event) {
      this.over = false;
      if (this.busy) return;
      const items = [...event.dataTransfer.items].filter((item) => item.kind === "file");
      await this.sendAll(await dropped(items));
    },
    async choose(event) {
      const files = chosen(event.target.files);
      event.target.value = "";
      await this.sendAll(files);
    },
    async sendAll(files) {
      if (files.length === 0) return;
      const refused = [];
      const waiting = files.filter(({ path }) => {
        const wanted = this.suffixes.some((suffix) => path.toLowerCase().endsWith(suffix));
        if (!wanted) refused.push(`${path} was left aside: it is neither a WAV file, an index nor text`);
        return wanted;
      });
      const count = waiting.length;
      let sent = 0;
      const drop = String(performance.now());
      const work = async () => {
        while (waiting.length > 0) {
          this.busy = `Sending ${sent + 1} of ${count} files`;
          const said = await this.send(waiting.shift(), drop);
          if (said) refused.push(said);
          sent += 1;
        }
      };
      await Promise.all(Array.from({ length: AT_ONCE }, work));
      this.busy = "";
      this.$emit("done", { refused });
    },
    async send({ path, file }, drop) {
      try {
        const answer = await fetch((window.path_prefix || "") + this.url, {
          method: "POST",
          headers: { "X-File-Name": encodeURIComponent(path), "X-Drop": drop },
          body: file,
        });
        if (answer.ok) return "";
        const said = await answer.json().catch(() => ({}));
        return said.refused || `${path} was refused (${answer.status})`;
      } catch {
        return `${path} could not be sent; it may be too large`;
      }
    },
  },
};
