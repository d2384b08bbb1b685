/** What has letters written into it, or takes them for itself: there they are no keys of the page. */
export const writing = "input:not([type=checkbox]):not([type=radio]):not([type=file]):not([type=range]), textarea, select, [contenteditable]";
