"""What the tests of pages ask of a page: its text, its boxes, its contrast, a site found by typing; and names that try to run."""

MONTHS = "January February March April May June July August September October November December".split()
HOSTILE = ["${alert(1)}", "`x`", "</script><script>alert(1)</script>", "<img src=x onerror=alert(1)>", "C:\\1", "{{ 7*7 }}",
           "{% raw %}", "<b>bold</b>"]
# Relative luminance as WCAG 2.2 defines it (https://www.w3.org/TR/WCAG22/#dfn-relative-luminance), of three numbers up to 255.
LIGHT = """const light = c => { const [r, g, b] = c.map(v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b; };"""
# Contrast of every text that is seen, with the element's class and its first words.
CONTRAST = "() => {" + LIGHT + """
  const rgb = text => (text.match(/[\\d.]+/g) || []).map(Number);
  const behind = element => { for (let e = element; e; e = e.parentElement) {
    if (e.matches(".top")) return [59, 44, 105];                         // the lightest stop of the head's gradient
    if (e.matches(".gz-label-area")) return [220, 226, 232];             // text on the map: sea is its darkest ground
    const c = rgb(getComputedStyle(e).backgroundColor);
    if (c.length === 3 || c[3] > 0.75) return c.slice(0, 3); } return [255, 255, 255]; };
  const found = [];
  for (const element of document.querySelectorAll("body *")) {
    const own = [...element.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    if (!own || !element.checkVisibility({visibilityProperty: true}) || element.closest("script, style, noscript")) continue;
    const a = light(rgb(getComputedStyle(element).color).slice(0, 3)), b = light(behind(element));
    found.push([(Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), element.className + " " + element.textContent.slice(0, 40)]);
  }
  return found;
}"""


def watch(page, file, trouble):
    """Notes in `trouble` what a page may not do: ask for anything but its own file, print to the console, throw, open a dialog."""
    page.set_default_timeout(10_000)
    page.on("console", lambda message: trouble.append(f"console: {message.text}"))
    page.on("pageerror", lambda error: trouble.append(f"error: {error}"))
    page.on("dialog", lambda dialog: (trouble.append(f"dialog: {dialog.message}"), dialog.dismiss()))
    page.on("request", lambda request: None if request.url.split("#")[0] == file.as_uri() or request.url.startswith("data:")
            else trouble.append(f"request: {request.url}"))
    page.add_init_script("document.addEventListener('securitypolicyviolation', "
                         "event => console.error('policy', event.violatedDirective, event.blockedURI))")


def text_of(page, selector):
    return " ".join(page.inner_text(selector).split())


def boxes(page, selector):
    return page.evaluate("""s => [...document.querySelectorAll(s)].filter(e => e.checkVisibility({visibilityProperty: true})).map(e =>
        (b => ({text: e.textContent, x: b.x, y: b.y, w: b.width, h: b.height}))(e.getBoundingClientRect())).filter(b => b.w > 0)""", selector)


def choose(page, site_id):
    """Types the site's number, takes it from the list and returns what the panel says."""
    page.fill("#find-field", site_id)
    page.locator("#find-list li", has=page.get_by_text(site_id, exact=True)).first.click()
    page.wait_for_selector(f'#panel[data-site="{site_id}"]')
    return page.inner_text("#panel")


def until(page, expression):
    """Waits for an expression of the page, or a function here, to become true; the page's policy forbids what `wait_for_function` does."""
    for _ in range(100):
        if expression() if callable(expression) else page.evaluate(expression):
            return
        page.wait_for_timeout(30)
    raise AssertionError(expression)


def day(night):
    """The evening that names a night of 2027, as the pages write it."""
    year, month, number = night.split("-")
    assert year == "2027"
    return f"{int(number)} {MONTHS[int(month) - 1]}"
