export * from "./desk_data.js";
export * from "./desk_draw.js";
export * from "./desk_pointer.js";
export * from "./desk_read.js";
export * from "./desk_template.js";
export * from "./desk_things.js";
export * from "./desk_view.js";
export * from "./styles.js";
