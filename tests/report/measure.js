// Looks at each page in a frame as wide as a device: what sticks out, what is empty, which text is hard to read.
"use strict";

// WCAG 2.2: relative luminance and contrast ratio.
const luminance = (colour) => {
  const [r, g, b] = colour.map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const contrast = (a, b) => {
  const [dark, light] = [luminance(a), luminance(b)].sort((x, y) => x - y);
  return (light + 0.05) / (dark + 0.05);
};

const numbers = (colour) => colour.match(/[\d.]+/g).map(Number);
const ground = (view, element) => {
  for (; element; element = element.parentElement) {
    const [r, g, b, opacity = 1] = numbers(view.getComputedStyle(element).backgroundColor);
    if (opacity > 0) return [r, g, b];
  }
  return [255, 255, 255];
};
const shown = (element) => element.getClientRects().length > 0;
const tell = (elements) => [...elements].map((element) => element.outerHTML.slice(0, 90));

const measure = (frame) => {
  const page = frame.contentDocument;
  const view = frame.contentWindow;
  const worst = { ratio: 21, text: "" };
  const small = [];
  const walk = page.createTreeWalker(page.body, NodeFilter.SHOW_TEXT);
  for (let node; (node = walk.nextNode()); ) {
    const element = node.parentElement;
    const text = node.data.trim();
    if (!text || !shown(element) || ["SCRIPT", "STYLE", "OPTION"].includes(element.tagName)) continue;
    const style = view.getComputedStyle(element);
    const ratio = contrast(numbers(style.color).slice(0, 3), ground(view, element));
    if (ratio < worst.ratio) Object.assign(worst, { ratio, text });
    if (parseFloat(style.fontSize) < 8) small.push(text);
  }
  const sticksOut = (element) => {
    const { left, right } = element.getBoundingClientRect();
    return shown(element) && !element.closest(".filter") && (right > view.innerWidth + 1 || left < -1);
  };
  const gone = (image) => !image.complete || !image.naturalWidth || image.clientWidth < 8 || image.clientHeight < 4;
  const hollow = (element) => shown(element) && !element.textContent.trim() && !element.querySelector("img");
  const parts = page.querySelectorAll("h1, h2, h3, h4, p, li, dd, dt, th, td, figure, section, article");
  return {
    width: view.innerWidth,
    scrolls: page.documentElement.scrollWidth,
    height: page.documentElement.scrollHeight,
    images: page.images.length,
    gone: tell([...page.images].filter(gone)),
    out: tell([...page.querySelectorAll("main *")].filter(sticksOut)),
    hollow: tell([...parts].filter(hollow)),
    worst,
    small,
  };
};

onload = () => {
  const told = JSON.stringify([...document.querySelectorAll("iframe")].map(measure));
  document.body.replaceChildren(Object.assign(document.createElement("pre"), { id: "told", textContent: told }));
};
