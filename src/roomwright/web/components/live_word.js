// Text that may change many times a second. It changes in the page by itself: where the toolkit
// changes a property of any element, it goes through all elements of the page.
export default {
  template: "<span>{{ text }}</span>",
  data() { return { text: "" }; },
  mounted() { this.$emit("ready"); },
  methods: { say(text) { this.text = text; } },
};
