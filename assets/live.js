/*!
Made by web/build.sh from web/src: edit there.

assets/live.js contains Preact 11.2.0, https://preactjs.com, under this licence:

The MIT License (MIT)

Copyright (c) 2015-present Jason Miller

Permission is hereby granted, free of charge, to any person obtaining a copy
of this software and associated documentation files (the "Software"), to deal
in the Software without restriction, including without limitation the rights
to use, copy, modify, merge, publish, distribute, sublicense, and/or sell
copies of the Software, and to permit persons to whom the Software is
furnished to do so, subject to the following conditions:

The above copyright notice and this permission notice shall be included in all
copies or substantial portions of the Software.

THE SOFTWARE IS PROVIDED "AS IS", WITHOUT WARRANTY OF ANY KIND, EXPRESS OR
IMPLIED, INCLUDING BUT NOT LIMITED TO THE WARRANTIES OF MERCHANTABILITY,
FITNESS FOR A PARTICULAR PURPOSE AND NONINFRINGEMENT. IN NO EVENT SHALL THE
AUTHORS OR COPYRIGHT HOLDERS BE LIABLE FOR ANY CLAIM, DAMAGES OR OTHER
LIABILITY, WHETHER IN AN ACTION OF CONTRACT, TORT OR OTHERWISE, ARISING FROM,
OUT OF OR IN CONNECTION WITH THE SOFTWARE OR THE USE OR OTHER DEALINGS IN THE
SOFTWARE.
*/
"use strict";
(() => {
  // node_modules/preact/dist/preact.mjs
  var n;
  var t;
  var r;
  var u;
  var i;
  var f;
  var o;
  var e;
  var l;
  var c;
  var a;
  var s;
  var h = /* @__PURE__ */ Symbol.for("pv");
  var p = {};
  var y = [];
  var v = /^m(i|n|o|s|text|space)$/;
  var w = Array.isArray;
  var d = y.slice;
  var _ = Object.assign;
  function g(n2) {
    n2 && n2.parentNode && n2.remove();
  }
  function m(r3, u3, i3, f4, o4) {
    var e3 = { type: r3, props: u3, key: i3, ref: f4, __k: null, __: null, __b: 0, __e: null, __c: null, constructor: h, __v: o4 || ++t, __i: -1, __u: 0 };
    return !o4 && n.vnode && n.vnode(e3), e3;
  }
  function $(n2) {
    return n2.children;
  }
  function x(n2, t3) {
    this.props = n2, this.context = t3, this.__g = 0;
  }
  function S(n2, t3) {
    if (null == t3) return n2.__ && S(n2.__, n2.__i + 1);
    for (var r3; t3 < n2.__k.length; t3++) if ((r3 = n2.__k[t3]) && r3.__e) return r3.__e;
    return "function" != typeof n2.type || n2.props.__P ? null : S(n2);
  }
  function C(t3) {
    var r3, u3 = t3.__v, i3 = u3.__e, f4 = [], o4 = [], e3 = t3.__P;
    e3 && ((r3 = _({ constructor: h }, u3)).__v = u3.__v + 1, n.vnode && n.vnode(r3), z(e3, r3, u3, t3.__n, e3.namespaceURI, 32 & u3.__u ? [i3] : null, f4, i3 || S(u3), 32 & u3.__u, o4), r3.__v = u3.__v, r3.__.__k[r3.__i] = r3, E(f4, r3, o4), u3.__ = u3.__e = null, r3.__e != i3 && j(r3));
  }
  function j(n2) {
    if ((n2 = n2.__) && n2.__c && !n2.props.__P) return n2.__e = null, n2.__k.some(function(t3) {
      return t3 && (n2.__e = t3.__e);
    }), j(n2);
  }
  function L(t3) {
    (8 & t3.__g || (t3.__g |= 8, u.push(t3), f++)) && i == n.debounceRendering || ((i = n.debounceRendering) || queueMicrotask)(H);
  }
  function H() {
    try {
      for (var n2, t3 = 1; u.length; ) u.length > t3 && u.sort(o), n2 = u.shift(), t3 = u.length, 8 & n2.__g && C(n2);
    } finally {
      (f = u.length) && (i || queueMicrotask)(H);
    }
  }
  function I(n2, t3, r3, u3, i3, f4, o4, e3, l3, c3, a4) {
    var s3, h3, v3, w3, d3, _3, g3 = u3.__k || y, k2 = t3.length;
    for (l3 = q(r3, t3, g3, l3, k2), s3 = 0; s3 < k2; s3++) null != (v3 = r3.__k[s3]) && (h3 = ~v3.__i && g3[v3.__i] || p, v3.__i = s3, _3 = z(n2, v3, h3, i3, f4, o4, e3, l3, c3, a4), w3 = v3.__e, (h3.ref != v3.ref || 8 & h3.__u) && (h3.ref && G(h3.ref, null, v3, h3), v3.ref && a4.push(v3.ref, v3.__c || w3, v3)), d3 = d3 || w3, 4 & v3.__u ? (l3 = A(v3, l3, n2, !h3.__v), h3.__e && (h3.__e = null)) : "function" == typeof v3.type && void 0 !== _3 ? l3 = _3 : w3 && (l3 = w3.nextSibling), v3.__u &= -21);
    return r3.__e = d3, l3;
  }
  function q(n2, t3, r3, u3, i3) {
    var f4, o4, e3, l3, c3, a4, s3, p3, y3, v3 = r3.length, d3 = v3, _3 = 0, g3 = 0, k2 = n2.__k = Array(i3);
    for (f4 = 0; f4 < i3; f4++) null != (o4 = t3[f4]) && "boolean" != typeof o4 && "function" != typeof o4 ? ("object" != typeof o4 || o4.constructor === String ? o4 = k2[f4] = m(null, o4) : w(o4) ? o4 = k2[f4] = m($, { children: o4 }) : o4.constructor === h && o4.__b ? o4 = k2[f4] = m(o4.type, o4.props, o4.key, o4.ref, o4.__v) : k2[f4] = o4, l3 = f4 + _3, o4.__ = n2, o4.__b = n2.__b + 1, e3 = null, ~(c3 = o4.__i = P(o4, r3, l3, d3)) && (d3--, (e3 = r3[c3]) && (e3.__u |= 2)), e3 && e3.__v ? (o4.__u |= 16, c3 == l3 - 1 ? _3-- : c3 == l3 + 1 ? _3++ : c3 != l3 && (c3 > l3 ? _3-- : _3++, g3 = 1)) : (~c3 || (i3 > v3 ? _3-- : i3 < v3 && _3++), "function" != typeof o4.type && (o4.__u |= 4))) : k2[f4] = null;
    if (g3) {
      for (a4 = [], s3 = [], f4 = 0; f4 < i3; f4++) if ((o4 = k2[f4]) && 16 & o4.__u) {
        for (_3 = 0, p3 = a4.length; _3 < p3; ) a4[y3 = _3 + p3 >> 1] < o4.__i ? _3 = y3 + 1 : p3 = y3;
        a4[_3] = o4.__i, s3[f4] = _3 + 1;
      }
      for (_3 = a4.length; f4--; ) s3[f4] && (s3[f4] == _3 ? _3-- : k2[f4].__u |= 4);
    }
    if (d3) for (f4 = 0; f4 < v3; f4++) !(e3 = r3[f4]) || 2 & e3.__u || (e3.__e == u3 && (u3 = S(e3)), J(e3, e3));
    return u3;
  }
  function A(n2, t3, r3, u3) {
    var i3, f4, o4, e3;
    if ("function" == typeof n2.type) {
      if (n2.props.__P) return t3;
      if (i3 = n2.__k) for (f4 = 0; f4 < i3.length; f4++) i3[f4] && (i3[f4].__ = n2, t3 = A(i3[f4], t3, r3, false));
      return t3;
    }
    for (t3 && !t3.parentNode && (t3 = S(n2)) && !t3.parentNode && (t3 = null), o4 = n2.__e, e3 = t3; e3 && 8 == e3.nodeType; ) e3 = e3.nextSibling;
    for (o4 != e3 && (!u3 && r3.moveBefore && o4.parentNode ? r3.moveBefore(o4, t3) : r3.insertBefore(o4, t3 || null)), t3 = o4; (t3 = t3 && t3.nextSibling) && 8 == t3.nodeType && !t3.data.startsWith("$s"); ) ;
    return t3;
  }
  function P(n2, t3, r3, u3) {
    var i3, f4 = n2.key, o4 = n2.type, e3 = t3[r3], l3 = e3 && !(2 & e3.__u);
    if (null === e3 && null == f4 || l3 && f4 == e3.key && o4 == e3.type) return r3;
    if (u3 > (l3 ? 1 : 0)) {
      for (i3 = r3 - 1; i3 >= 0; i3--) if ((e3 = t3[i3]) && !(2 & e3.__u) && f4 == e3.key && o4 == e3.type) return i3;
      for (i3 = r3 + 1; i3 < t3.length; i3++) if ((e3 = t3[i3]) && !(2 & e3.__u) && f4 == e3.key && o4 == e3.type) return i3;
    }
    return -1;
  }
  function T(n2, t3, r3) {
    null == r3 && (r3 = ""), "-" == t3[0] ? n2.setProperty(t3, r3) : n2[t3] = r3;
  }
  function N(n2, t3, r3, u3, i3) {
    var f4, o4;
    if ("style" == t3) if ("string" == typeof r3) n2.style.cssText = r3;
    else {
      if ("string" == typeof u3 && (n2.style.cssText = u3 = ""), u3) for (t3 in u3) r3 && t3 in r3 || T(n2.style, t3);
      if (r3) for (t3 in r3) u3 && r3[t3] == u3[t3] || T(n2.style, t3, r3[t3]);
    }
    else if ("o" == t3[0] && "n" == t3[1]) "function" != typeof r3 && (r3 = null), "function" != typeof u3 && (u3 = null), (n2.__e || (n2.__e = {}))[t3] = r3, r3 && u3 || (o4 = a[t3] || (a[t3] = V(t3)), (n2.__a || (n2.__a = {}))[t3] = c, f4 = t3 != (t3 = t3.replace(l, "$1")), (t3 = t3.slice(2))[0] < "a" && (t3 = t3.toLowerCase()), r3 ? n2.addEventListener(t3, o4, f4) : n2.removeEventListener(t3, o4, f4));
    else {
      if ("http://www.w3.org/2000/svg" == i3) t3 = t3.replace(/xlink(H|:h)/, "h").replace(/sName$/, "s");
      else if ("width" != t3 && "height" != t3 && "href" != t3 && "list" != t3 && "form" != t3 && "tabIndex" != t3 && "download" != t3 && "rowSpan" != t3 && "colSpan" != t3 && "role" != t3 && "popover" != t3 && t3 in n2) try {
        return void (n2[t3] = null == r3 ? "" : r3);
      } catch (n3) {
      }
      if ("function" == typeof r3) return;
      null == r3 || false === r3 && "-" != t3[4] ? n2.removeAttribute(t3) : n2.setAttribute(t3, "popover" == t3 && 1 == r3 ? "" : r3);
    }
  }
  function V(t3) {
    return function(r3) {
      var u3 = this.__e;
      if (u3) {
        if (u3 = u3[t3], null == r3[e]) r3[e] = c++;
        else if (r3[e] < this.__a[t3]) return;
        return u3(n.event ? n.event(r3) : r3);
      }
    };
  }
  function z(t3, r3, u3, i3, f4, o4, e3, l3, c3, a4) {
    var s3, p3, v3, d3, k2, b, m3, M, C3, j2, L2, H2, q2, A3, O, P2, T3, N2, V2 = r3.type;
    if (r3.constructor !== h) return null;
    128 & u3.__u && (c3 = 32 & u3.__u, s3 = u3.__c.__z) && (r3.__u |= c3, p3 = o4 = [], 8 == s3.nodeType ? l3 = B(s3, o4) : o4.push(s3), l3 = o4[0] || l3), (s3 = n.__b) && s3(r3);
    n: if ("function" == typeof V2) {
      v3 = e3.length;
      try {
        if (M = r3.props, C3 = (s3 = V2.prototype) && s3.render, j2 = (s3 = V2.contextType) && i3[s3.__c], L2 = s3 ? j2 ? j2.props.value : s3.__ : i3, (d3 = u3.__c) ? (r3.__c = d3, 2 & d3.__g && (d3.__g |= 1)) : (C3 ? r3.__c = d3 = new V2(M, L2) : (r3.__c = d3 = new x(M, L2), d3.constructor = V2, d3.render = K), j2 && j2.sub(d3), d3.state || (d3.state = {}), d3.__n = i3, d3.__g |= 8, d3.__h = [], d3.__k = []), C3 && (d3.__s || (d3.__s = d3.state), V2.getDerivedStateFromProps && (d3.__s == d3.state && (d3.__s = _({}, d3.__s)), _(d3.__s, V2.getDerivedStateFromProps(M, d3.__s)))), k2 = d3.props, b = d3.state, d3.__v = r3, u3.__c) {
          if (M !== k2 && C3 && !V2.getDerivedStateFromProps && d3.componentWillReceiveProps && d3.componentWillReceiveProps(M, L2), r3.__v == u3.__v && !(8 & d3.__g) || !(4 & d3.__g) && d3.shouldComponentUpdate && false === d3.shouldComponentUpdate(M, d3.__s, L2)) {
            r3.__v != u3.__v && (d3.props = M, d3.state = d3.__s, d3.__g &= -9), r3.__e = u3.__e, r3.__k = u3.__k, r3.__k.some(function(n2) {
              n2 && (n2.__ = r3);
            }), y.push.apply(d3.__h, d3.__k), d3.__k = [], d3.__h.length && e3.push(d3), l3 = S(u3);
            break n;
          }
          d3.componentWillUpdate && d3.componentWillUpdate(M, d3.__s, L2), C3 && d3.componentDidUpdate && d3.__h.push(function() {
            d3.componentDidUpdate(k2, b, m3);
          });
        } else C3 && !V2.getDerivedStateFromProps && d3.componentWillMount && d3.componentWillMount(), C3 && d3.componentDidMount && d3.__h.push(d3.componentDidMount);
        d3.context = L2, d3.props = M, d3.__P = t3, d3.__g &= -5, H2 = n.__r, q2 = C3 ? 25 : 0;
        do {
          d3.__g &= -9, H2 && H2(r3), s3 = d3.render(d3.props, d3.state = d3.__s, d3.context);
        } while (8 & d3.__g && ++q2 < 25);
        C3 && (y.push.apply(d3.__h, d3.__k), d3.__k = []), d3.state = d3.__s, d3.getChildContext && (i3 = _({}, i3, d3.getChildContext())), C3 && u3.__c && d3.getSnapshotBeforeUpdate && (m3 = d3.getSnapshotBeforeUpdate(k2, b)), A3 = s3 && s3.type === $ && null == s3.key ? s3.props.children : s3, M.__P && (s3 = l3, f4 = (t3 = M.__P).namespaceURI, c3 = o4 = null, u3.props && u3.props.__P != t3 && (u3.__k.some(function(n2) {
          n2 && J(n2, n2);
        }), u3.__k = null), l3 = u3.__k ? S(u3, 0) : null), l3 = I(t3, w(A3) ? A3 : [A3], r3, u3, i3, f4, o4, e3, l3, c3, a4), M.__P && (r3.__e = null, l3 = s3), r3.__u &= -161, p3 && p3.some(g), d3.__h.length && e3.push(d3), 1 & d3.__g && (d3.__g &= -4);
      } catch (t4) {
        if (e3.length = v3, r3.__v = null, c3 || o4) if (t4 && t4.then) {
          if (r3.__u |= 128 | c3, o4) {
            for (~(T3 = o4.indexOf(l3 || void 0)) || (T3 = o4.length); (N2 = o4[T3 - 1]) && 8 == N2.nodeType; ) T3--;
            for (; T3 < o4.length; T3++) if (N2 = o4[T3]) if (o4[T3] = null, O) {
              if (N2 == P2) break;
            } else {
              if (8 != N2.nodeType) break;
              N2.data.startsWith("$s") && (P2 = B(O = N2));
            }
          }
          if (!O) {
            for (; l3 && 8 == l3.nodeType && l3.nextSibling; ) l3 = l3.nextSibling;
            O = l3;
          }
          (s3 = B(O = r3.__c.__z || (r3.__c.__z = O))) ? (r3.__e = O, l3 = s3) : r3.__e = l3, l3 = l3 && l3.nextSibling;
        } else o4 && o4.some(g);
        else r3.__e = u3.__e;
        r3.__k || (r3.__k = u3.__k || []), t4 && t4.then || D(r3), n.__e(t4, r3, u3);
      }
    } else l3 = r3.__e = F(u3.__e, r3, u3, i3, f4, o4, e3, c3, a4, t3);
    return (s3 = n.diffed) && s3(r3), l3;
  }
  function B(n2, t3) {
    if (n2 && 8 == n2.nodeType && n2.data.startsWith("$s")) for (var r3 = 1; n2 = n2.nextSibling; ) {
      if (8 == n2.nodeType) {
        if (n2.data.startsWith("$s")) r3++;
        else if (n2.data.startsWith("/$s") && !--r3) return n2;
      }
      t3 && t3.push(n2);
    }
  }
  function D(n2) {
    n2 && (n2.__c && (n2.__c.__g |= 4), n2.__k && n2.__k.some(D));
  }
  function E(t3, r3, u3) {
    for (var i3 = 0; i3 < u3.length; ) G(u3[i3++], u3[i3++], u3[i3++]);
    n.__c && n.__c(r3, t3), t3.some(function(r4) {
      try {
        t3 = r4.__h, r4.__h = [], t3.some(function(n2) {
          n2.call(r4);
        });
      } catch (t4) {
        n.__e(t4, r4.__v);
      }
    });
  }
  function F(t3, r3, u3, i3, f4, o4, e3, l3, c3, a4) {
    var s3, h3, y3, _3, k2, b, m3, M, $2 = u3.props || p, x2 = r3.props, C3 = r3.type;
    if ("svg" == C3 ? f4 = "http://www.w3.org/2000/svg" : "math" == C3 ? f4 = "http://www.w3.org/1998/Math/MathML" : f4 || (f4 = "http://www.w3.org/1999/xhtml"), o4) {
      for (s3 = 0; s3 < o4.length; s3++) if ((k2 = o4[s3]) && (C3 ? k2.localName == C3 : 3 == k2.nodeType)) {
        t3 = k2, o4[s3] = null;
        break;
      }
    }
    if (!t3) {
      if (M = a4.ownerDocument || document, !C3) return M.createTextNode(x2);
      t3 = M.createElementNS(f4, C3, x2.is ? x2 : a4), l3 && (n.__m && n.__m(r3, o4), l3 = false), o4 = null;
    }
    if (C3) {
      if (a4 = "template" == C3 && t3.content || t3, o4 = "textarea" == C3 && null != x2.defaultValue ? null : o4 && d.call(a4.childNodes), !l3 && o4) for ($2 = {}, s3 = 0; s3 < t3.attributes.length; s3++) $2[(k2 = t3.attributes[s3]).name] = k2.value;
      for (s3 in $2) k2 = $2[s3], "dangerouslySetInnerHTML" == s3 ? y3 = k2 : "children" == s3 || s3 in x2 || "value" == s3 && "defaultValue" in x2 || "checked" == s3 && "defaultChecked" in x2 || N(t3, s3, null, k2, f4);
      for (s3 in x2) k2 = x2[s3], "children" == s3 ? _3 = k2 : "dangerouslySetInnerHTML" == s3 ? h3 = k2 : "value" == s3 ? b = k2 : "checked" == s3 ? m3 = k2 : l3 && "function" != typeof k2 || $2[s3] === k2 || N(t3, s3, k2, $2[s3], f4);
      h3 ? (l3 || y3 && (h3.__html == y3.__html || h3.__html == t3.innerHTML) || (t3.innerHTML = h3.__html), r3.__k = []) : (y3 && (t3.textContent = ""), ("foreignObject" == C3 || "http://www.w3.org/1998/Math/MathML" == f4 && v.test(C3)) && (f4 = "http://www.w3.org/1999/xhtml"), I(a4, w(_3) ? _3 : [_3], r3, u3, i3, f4, o4, e3, o4 ? o4[0] : u3.__k && S(u3, 0), l3, c3), o4 && o4.some(g)), l3 && "textarea" != C3 || (s3 = "value", "progress" == C3 && null == b ? t3.removeAttribute(s3) : null == b || b === t3[s3] && ("progress" != C3 || b) || N(t3, s3, b, $2[s3], f4), s3 = "checked", null != m3 && m3 != t3[s3] && N(t3, s3, m3, $2[s3], f4));
    } else $2 === x2 || l3 && t3.data == x2 || (t3.data = x2);
    return t3;
  }
  function G(t3, r3, u3, i3) {
    try {
      "function" == typeof t3 ? r3 ? r3.__x = t3(r3) || 1 : i3 && (i3 = i3.__c || i3.__e) && (r3 = i3.__x) && (i3.__x = null, "function" == typeof r3 ? r3() : t3(null)) : t3.current = r3;
    } catch (t4) {
      n.__e(t4, u3);
    }
  }
  function J(t3, r3, u3) {
    var i3, f4, o4, e3;
    if (n.unmount && n.unmount(t3), !(i3 = t3.ref) || i3.current && i3.current != t3.__e || G(i3, null, r3, t3), i3 = t3.__c) {
      if (i3.componentWillUnmount) try {
        i3.componentWillUnmount();
      } catch (t4) {
        n.__e(t4, r3);
      }
      i3.__P = i3.__n = null;
    }
    if (i3 = t3.__k) for (e3 = 0; e3 < i3.length; e3++) i3[e3] && J(i3[e3], r3, "function" != typeof t3.type || u3 && !t3.props.__P);
    !u3 && (i3 = t3.__c) && (i3 = i3.__z) && (f4 = B(i3, o4 = [])) && (i3 == t3.__e && o4.some(g), g(f4), g(i3)), u3 || g(t3.__e), t3.__e = t3.__c = t3.__ = null;
  }
  function K(n2, t3, r3) {
    return this.constructor(n2, r3);
  }
  function Q(t3, r3) {
    var u3, i3, f4, o4;
    n.__ && n.__(t3, r3), 9 == r3.nodeType && (r3 = r3.documentElement), i3 = (u3 = t3 && 32 & t3.__u) ? null : r3.__k, r3.__k = m($, { children: [t3] }), f4 = [], o4 = [], z(r3, r3.__k, i3 || p, p, r3.namespaceURI, i3 ? null : r3.firstChild ? d.call(r3.childNodes) : null, f4, i3 ? i3.__e : r3.firstChild, u3, o4), E(f4, r3.__k, o4), r3.__k.props.children = null;
  }
  n = { __e: function(n2, t3, r3, u3) {
    for (var i3, o4, e3; t3 = t3.__; ) if ((i3 = t3.__c) && !(1 & i3.__g)) {
      i3.__g |= 4;
      try {
        if ((e3 = (o4 = i3.constructor) && o4.getDerivedStateFromError) && i3.setState(o4.getDerivedStateFromError(n2)), i3.componentDidCatch && (i3.componentDidCatch(n2, u3 || {}), e3 = 1), e3 && 8 & i3.__g) return void (i3.__g |= 2);
      } catch (t4) {
        n2 = t4;
      }
    }
    throw f = 0, n2;
  } }, t = 0, r = function(n2) {
    return null != n2 && n2.constructor === h;
  }, x.prototype.setState = function(n2, t3) {
    var r3 = this.__s;
    r3 && r3 != this.state || (r3 = this.__s = _({}, this.state)), "function" == typeof n2 && (n2 = n2(_({}, r3), this.props)), n2 && (_(r3, n2), this.__v && (t3 && this.__k.push(t3), L(this)));
  }, x.prototype.forceUpdate = function(n2) {
    this.__v && (this.__g |= 4, n2 && this.__h.push(n2), L(this));
  }, x.prototype.render = $, u = [], f = 0, o = function(n2, t3) {
    return n2.__v.__b - t3.__v.__b;
  }, e = /* @__PURE__ */ Symbol(), l = /(PointerCapture)$|Capture$/i, c = 0, a = {}, s = 0;

  // node_modules/preact/hooks/dist/hooks.mjs
  var t2;
  var r2;
  var u2;
  var i2;
  var o2 = Object.is;
  var f2 = 0;
  var c2 = [];
  var e2 = [];
  var a2 = n;
  var v2 = a2.__b;
  var l2 = a2.__r;
  var m2 = a2.diffed;
  var h2 = a2.__c;
  var s2 = a2.unmount;
  var p2 = a2.__;
  function y2(n2, t3) {
    a2.__h && a2.__h(r2, n2, f2 || t3), f2 = 0;
    var u3 = r2.__H || (r2.__H = { __: [], __h: [] });
    return n2 >= u3.__.length && u3.__.push({}), u3.__[n2];
  }
  function d2(n2) {
    return f2 = 1, _2(G2, n2);
  }
  function _2(n2, u3, i3) {
    var f4 = y2(t2++, 2);
    if (f4.t = n2, !f4.__c && (f4.__ = [i3 ? i3(u3) : G2(void 0, u3), function(n3) {
      var t3 = (f4.__N || f4.__)[0], r3 = f4.t(t3, n3);
      o2(t3, r3) || (f4.__N = [r3, f4.__[1]], f4.__c.setState({}));
    }], f4.__c = r2, !r2.__f)) {
      r2.__f = true;
      var c3 = r2.shouldComponentUpdate;
      r2.shouldComponentUpdate = function(n3, t3, r3) {
        var u4 = this.__H;
        if (!u4) return true;
        var i4 = false, f5 = this.props != n3;
        if (u4.__.some(function(n4) {
          n4.__N && (i4 = true, o2(n4.__[0], n4.__N[0]) || (f5 = true));
        }), c3) {
          var e3 = c3.call(this, n3, t3, r3);
          return i4 ? e3 || f5 : e3;
        }
        return !i4 || f5;
      };
    }
    return f4.__;
  }
  function A2(n2, u3) {
    var i3 = y2(t2++, 3);
    !a2.__s && E2(i3.__H, u3) && (i3.__P = true, i3.__ = n2, i3.u = u3, r2.__H.__h.push(i3));
  }
  function T2(n2) {
    return f2 = 5, w2(function() {
      return { current: n2 };
    }, []);
  }
  function w2(n2, r3) {
    var u3 = y2(t2++, 7);
    return E2(u3.__H, r3) && (u3.__ = n2(), u3.__H = r3), u3.__;
  }
  function g2() {
    var n2;
    do {
      for (; n2 = e2.shift(); ) try {
        C2(n2);
      } catch (t4) {
        a2.__e(t4, { __: (n2 = n2.__P) && n2.__v });
      }
      for (; n2 = c2.shift(); ) {
        var t3 = n2.__H;
        if (n2.__P && t3) try {
          t3.__h.some(C2), t3.__h.some(D2), t3.__h = [];
        } catch (r3) {
          t3.__h = [], a2.__e(r3, n2.__v);
        }
      }
    } while (e2.length);
  }
  a2.__b = function(n2) {
    r2 = null, v2 && v2(n2);
  }, a2.__ = function(n2, t3) {
    n2 && t3.__k && t3.__k.__m && (n2.__m = t3.__k.__m), p2 && p2(n2, t3);
  }, a2.__r = function(n2) {
    l2 && l2(n2), t2 = 0;
    var i3 = (r2 = n2.__c).__H;
    i3 && (u2 == r2 ? r2.__h = [] : (i3.__h.some(C2), i3.__h.some(D2), t2 = 0), i3.__h = [], i3.__.some(function(n3) {
      n3.__N && (n3.__ = n3.__N), n3.u = n3.__N = void 0;
    })), u2 = r2;
  }, a2.diffed = function(n2) {
    m2 && m2(n2);
    var t3 = n2.__c;
    t3 && t3.__H && (t3.__H.__h.length && B2(c2.push(t3)), t3.__H.__.some(function(n3) {
      n3.u && (n3.__H = n3.u);
    })), u2 = r2 = null;
  }, a2.__c = function(n2, t3) {
    t3.some(function(n3) {
      try {
        n3.__h.some(C2), n3.__h = n3.__h.filter(function(n4) {
          return !n4.__ || D2(n4);
        });
      } catch (t4) {
        n3.__h = [function() {
          throw t4;
        }];
      }
    }), h2 && h2(n2, t3);
  }, a2.unmount = function(n2) {
    s2 && s2(n2);
    var t3, r3, u3 = n2.__c;
    u3 && u3.__H && (u3.__H.__.some(function(u4) {
      try {
        if (u4.__P && u4.__c) {
          if (void 0 === r3) {
            for (r3 = n2.__; r3 && (!r3.__c || !r3.__c.__P); ) r3 = r3.__;
            r3 = r3 && r3.__c;
          }
          u4.__P = r3, B2(e2.push(u4));
        } else C2(u4);
      } catch (n3) {
        t3 = n3;
      }
    }), u3.__H = void 0, t3 && a2.__e(t3, u3.__v));
  };
  var k = "function" == typeof requestAnimationFrame;
  function z2(n2) {
    var t3, r3 = function() {
      clearTimeout(u3), k && cancelAnimationFrame(t3), setTimeout(n2);
    }, u3 = setTimeout(r3, 35);
    k && (t3 = requestAnimationFrame(r3));
  }
  function B2(n2) {
    1 != n2 && i2 == a2.requestAnimationFrame || ((i2 = a2.requestAnimationFrame) || z2)(g2);
  }
  function C2(n2) {
    var t3 = r2, u3 = n2.__c;
    "function" == typeof u3 && (n2.__c = void 0, u3()), r2 = t3;
  }
  function D2(n2) {
    var t3 = r2;
    n2.__c = n2.__(), r2 = t3;
  }
  function E2(n2, t3) {
    return !n2 || n2.length != t3.length || t3.some(function(t4, r3) {
      return !o2(t4, n2[r3]);
    });
  }
  function G2(n2, t3) {
    return "function" == typeof t3 ? t3(n2) : t3;
  }

  // src/api.ts
  var Refused = class extends Error {
    constructor(status, message) {
      super(message);
      this.status = status;
    }
    status;
  };
  var Gone = class extends Error {
  };
  var ask = async (path, signal) => {
    const response = await fetch(path, { signal }).catch((error2) => {
      throw signal.aborted ? error2 : new Gone();
    });
    if (response.ok) return response;
    const said2 = await response.json().catch(() => ({}));
    const error = said2.error ?? `The program answers with error ${response.status}`;
    throw new Refused(response.status, `${error}${said2.accepted ? `; accepted: ${said2.accepted}` : ""}.`);
  };
  var url = (what, ...query) => {
    const all = query.filter((part) => part !== "").join("&");
    return `/api/${what}${all === "" ? "" : `?${all}`}`;
  };
  var ask_start = async (query, signal) => await (await ask(url("start", query), signal)).json();
  var ask_flight = async (query, signal) => await (await ask(url("flight", query), signal)).json();
  var ask_shares = async (query, page2, signal, each) => {
    const response = await ask(url("shares", query, `page=${page2}`), signal);
    if (!response.body) throw new Gone();
    const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
    let rest = "";
    let last = null;
    for (; ; ) {
      const { done, value } = await reader.read().catch((error) => {
        throw signal.aborted ? error : new Gone();
      });
      if (done) break;
      const lines = (rest + value).split("\n");
      rest = lines.pop() ?? "";
      for (const line of lines.filter((line2) => line2.trim() !== "")) {
        last = JSON.parse(line);
        each(last);
      }
    }
    if (!last?.done) throw new Refused(0, "The program broke off the flights before the last one.");
  };

  // src/words.ts
  var number = (value, decimals = 0) => {
    if (!Number.isFinite(value)) return "–";
    const [whole = "", rest] = Math.abs(value).toFixed(decimals).split(".");
    const apart = whole.replace(/\B(?=(\d{3})+$)/g, ",");
    const text = rest === void 0 ? apart : `${apart}.${rest}`;
    return value < 0 && /[1-9]/.test(text) ? `−${text}` : text;
  };
  var down = (value) => Math.floor(value + 1e-9);
  var up = (value) => Math.ceil(value - 1e-9);
  var rounded = (value, toward) => {
    if (!(value > 0)) return "0";
    if (value > 500) {
      const scale = 1e3 - value < 9.95 ? 10 : 1;
      const whole = toward(value * scale) / scale;
      return number(whole >= 1e3 && value < 1e3 && toward !== up ? 1e3 - 1 / scale : whole, scale === 10 ? 1 : 0).replace(/\.0$/, "");
    }
    if (value >= (toward === Math.round ? 9.95 : 10)) return number(toward(value));
    const decimals = Math.min(12, Math.max(0, 1 - Math.floor(Math.log10(value))));
    return String(Number((toward(value * 10 ** decimals) / 10 ** decimals).toFixed(decimals)));
  };
  var at_most = (per_1000) => rounded(per_1000, up);
  var share = (of, flights) => {
    if (flights === 0) return { value: "–", interval: "" };
    if (of.count === 0) return { value: "none", interval: `fewer than ${at_most(of.high)}` };
    if (of.count === flights) return { value: "all", interval: `more than ${rounded(of.low, down)}` };
    return { value: rounded(of.per_1000, Math.round), interval: `${rounded(of.low, down)} to ${at_most(of.high)}` };
  };
  var COMPASS = [
    "north",
    "north-north-east",
    "north-east",
    "east-north-east",
    "east",
    "east-south-east",
    "south-east",
    "south-south-east",
    "south",
    "south-south-west",
    "south-west",
    "west-south-west",
    "west",
    "west-north-west",
    "north-west",
    "north-north-west"
  ];
  var quantity = (value, unit, step) => {
    const text = number(value, (String(step).split(".")[1] ?? "").length).replace(/(\.\d*[1-9])0+$|\.0+$/, "$1");
    if (unit === "°") return `${text}°, from the ${COMPASS[Math.round(value / 22.5) % 16] ?? ""}`;
    return unit === "" ? text : `${text} ${unit}`;
  };

  // node_modules/preact/jsx-runtime/dist/jsxRuntime.mjs
  var f3 = /* @__PURE__ */ Symbol.for("pv");
  var o3 = 0;
  function a3(t3, e3, n2, u3, a4, i3) {
    e3 || (e3 = {});
    var c3, l3, p3 = e3;
    if ("ref" in p3 && "function" != typeof t3) for (l3 in p3 = {}, e3) "ref" == l3 ? c3 = e3[l3] : p3[l3] = e3[l3];
    var s3 = { type: t3, props: p3, key: n2, ref: c3, __k: null, __: null, __b: 0, __e: null, __c: null, constructor: f3, __v: --o3, __i: -1, __u: 0 };
    return (a4 || i3) && (s3.__source = a4, s3.__self = i3), n.vnode && n.vnode(s3), s3;
  }

  // src/controls.tsx
  var initial = (control) => control.initial === null ? null : String(control.initial);
  var in_words = (control, set) => {
    const value = set ?? initial(control);
    const choice = control.choices.find((choice2) => choice2.value === value);
    if (control.kind === "set") {
      const chosen = (value ?? "").split(",");
      return control.choices.filter((choice2) => chosen.includes(choice2.value)).map((choice2) => choice2.label).join(", ") || "none";
    }
    if (choice) return choice.label;
    return value === null ? control.note : quantity(Number(value), control.unit, control.step);
  };
  var Range = ({ control, set, onSet }) => {
    const { key, label, unit, min, max, step, note } = control;
    const [typed, type] = d2(null);
    const open = Number.isNaN(Number(set ?? control.initial ?? NaN));
    const value = open ? null : set ?? initial(control);
    const rests = control.typical ?? (min + max) / 2;
    const give = (text) => onSet(Number(text) === control.initial ? null : text);
    const write2 = (text) => {
      const good = text !== "" && Number(text) >= min && Number(text) <= max;
      type(good ? null : text);
      if (good) give(text);
    };
    const reset = () => {
      type(null);
      onSet(null);
      document.getElementById(`slider-${key}`)?.focus();
    };
    return /* @__PURE__ */ a3("div", { class: `control${set === null ? "" : " moved"}`, children: [
      /* @__PURE__ */ a3("div", { class: "values", children: [
        /* @__PURE__ */ a3("label", { for: `slider-${key}`, children: label }),
        /* @__PURE__ */ a3(
          "input",
          {
            type: "number",
            min,
            max,
            step,
            value: typed ?? value ?? "",
            placeholder: control.typical === null ? "–" : String(control.typical),
            "aria-label": `${label}, ${unit}`,
            "aria-invalid": typed !== null,
            "aria-describedby": `note-${key}`,
            onBlur: () => type(null),
            onInput: (event) => write2(event.currentTarget.value)
          }
        ),
        /* @__PURE__ */ a3("span", { class: "unit", "aria-hidden": "true", children: unit })
      ] }),
      /* @__PURE__ */ a3("div", { class: "values", children: [
        /* @__PURE__ */ a3(
          "input",
          {
            type: "range",
            id: `slider-${key}`,
            class: value === null ? "unset" : "",
            min,
            max,
            step,
            value: value ?? rests,
            "aria-valuetext": in_words(control, set),
            onInput: (event) => {
              type(null);
              give(event.currentTarget.value);
            }
          }
        ),
        /* @__PURE__ */ a3("button", { type: "button", class: "reset", disabled: set === null, "aria-label": `${label}: as in the scenario`, onClick: reset, children: "Reset" })
      ] }),
      /* @__PURE__ */ a3("p", { class: "note", id: `note-${key}`, children: typed === null ? note : `A number from ${min} to ${max} ${unit}.` })
    ] });
  };
  var SetOf = ({ control, set, onSet }) => {
    const chosen = (set ?? initial(control) ?? "").split(",").filter((value) => value !== "");
    const toggle = (value, on) => {
      const next = control.choices.map((choice) => choice.value).filter((other) => other === value ? on : chosen.includes(other));
      const text = next.join(",");
      onSet(text === initial(control) ? null : text);
    };
    return /* @__PURE__ */ a3("fieldset", { class: `control${set === null ? "" : " moved"}`, children: [
      /* @__PURE__ */ a3("legend", { children: control.label }),
      /* @__PURE__ */ a3("div", { class: "choices", children: control.choices.map(({ value, label }) => {
        const on = chosen.includes(value);
        const flip = (event) => toggle(value, event.currentTarget.checked);
        return /* @__PURE__ */ a3("label", { class: "choice", children: [
          /* @__PURE__ */ a3("input", { type: "checkbox", checked: on, disabled: on && chosen.length === 1, onChange: flip }),
          " ",
          label
        ] });
      }) }),
      /* @__PURE__ */ a3("p", { class: "note", children: [
        control.note,
        chosen.length === 1 ? " At least one stays." : ""
      ] })
    ] });
  };
  var Controls = ({ controls, value, onSet }) => /* @__PURE__ */ a3($, { children: controls.map((control) => {
    const props = { control, set: value(control.key), onSet: (value2) => onSet(control.key, value2) };
    return control.kind === "set" ? /* @__PURE__ */ a3(SetOf, { ...props }, control.key) : /* @__PURE__ */ a3(Range, { ...props }, control.key);
  }) });

  // src/draw.tsx
  var place = (scale, x2, y3) => {
    const [left, top, right, bottom] = scale.box_px;
    return [
      left + (x2 - scale.x[0]) / (scale.x[1] - scale.x[0]) * (right - left),
      bottom - (y3 - scale.y[0]) / (scale.y[1] - scale.y[0]) * (bottom - top)
    ];
  };
  var row_at = (rows, time_s) => {
    let low = 0;
    let high = rows.time_s.length - 1;
    while (low < high) {
      const middle = low + high + 1 >> 1;
      if ((rows.time_s[middle] ?? Infinity) <= time_s + 1e-6) low = middle;
      else high = middle - 1;
    }
    return low;
  };
  var value_at = (rows, column, time_s) => {
    const row = row_at(rows, time_s);
    const here = rows[column][row] ?? NaN;
    const next = rows[column][row + 1];
    const from = rows.time_s[row] ?? NaN;
    const to = rows.time_s[row + 1];
    if (next === void 0 || to === void 0 || time_s <= from) return here;
    return here + (next - here) * (time_s - from) / (to - from);
  };
  var span = (flight) => {
    const times = flight.policies.flatMap(({ rows }) => [rows.time_s[0], rows.time_s.at(-1)]).filter((time) => time !== void 0);
    return times.length === 0 ? [0, 1] : [Math.min(...times), Math.max(...times)];
  };
  var outline = (shape, r3) => {
    switch (shape) {
      case "square":
      case "frame":
        return `M${-r3} ${-r3}H${r3}V${r3}H${-r3}z`;
      case "up":
      case "hollow":
        return `M0 ${-1.2 * r3}L${1.15 * r3} ${0.9 * r3}H${-1.15 * r3}z`;
      case "down":
        return `M0 ${1.2 * r3}L${1.15 * r3} ${-0.9 * r3}H${-1.15 * r3}z`;
      case "diamond":
      case "lozenge":
        return `M0 ${-1.35 * r3}L${1.35 * r3} 0L0 ${1.35 * r3}L${-1.35 * r3} 0z`;
      case "cross":
        return `M${-r3} ${-r3}L${r3} ${r3}M${r3} ${-r3}L${-r3} ${r3}`;
      case "plus":
        return `M${-r3} 0H${r3}M0 ${-r3}V${r3}`;
      default:
        return `M${-r3} 0a${r3} ${r3} 0 1 0 ${2 * r3} 0a${r3} ${r3} 0 1 0 ${-2 * r3} 0z`;
    }
  };
  var Mark = ({ stroke, at: [x2, y3], r: r3 }) => {
    const open = ["cross", "plus", "ring", "frame", "hollow"].includes(stroke.shape);
    const ink = `var(${stroke.ink})`;
    return /* @__PURE__ */ a3(
      "path",
      {
        d: outline(stroke.shape, r3),
        transform: `translate(${x2.toFixed(1)} ${y3.toFixed(1)})`,
        fill: open ? "var(--paper)" : ink,
        stroke: open ? ink : "var(--paper)",
        "stroke-width": open ? 2.2 : 1.2
      }
    );
  };
  var dashes = ({ dash_px: [on, off] }) => off > 0 ? `${on} ${off}` : "none";
  var Sample = ({ stroke }) => /* @__PURE__ */ a3("svg", { class: "sample", viewBox: "0 0 34 12", width: "34", height: "12", "aria-hidden": "true", children: [
    /* @__PURE__ */ a3("path", { d: "M1 6H33", stroke: `var(${stroke.ink})`, "stroke-width": "2.4", "stroke-dasharray": dashes(stroke) }),
    /* @__PURE__ */ a3(Mark, { stroke, at: [17, 6], r: 4 })
  ] });
  var Tracks = ({ flight, strokes, scale, of, time_s }) => {
    const line = (rows, from, to) => {
      const points = rows.time_s.flatMap((at, row) => {
        const [x2, y3] = of.map((column) => rows[column][row]);
        return at >= from - 1e-6 && at <= to + 1e-6 && typeof x2 === "number" && typeof y3 === "number" ? [place(scale, x2, y3)] : [];
      });
      return points.length < 2 ? "" : `M${points.map(([x2, y3]) => `${x2.toFixed(1)} ${y3.toFixed(1)}`).join("L")}`;
    };
    const here = (rows, at) => place(scale, value_at(rows, of[0], at), value_at(rows, of[1], at));
    const lost_s = flight.lost_at_s ?? Infinity;
    const tracks = flight.policies.flatMap(({ rows }, index) => {
      const stroke = strokes[index];
      return stroke ? [{ rows, stroke }] : [];
    });
    const first = tracks[0];
    return /* @__PURE__ */ a3("g", { fill: "none", "aria-hidden": "true", children: [
      first && /* @__PURE__ */ a3("path", { class: "shared", d: line(first.rows, -Infinity, lost_s) }),
      tracks.map(({ rows, stroke }) => /* @__PURE__ */ a3("g", { stroke: `var(${stroke.ink})`, "stroke-width": "2.2", "stroke-dasharray": dashes(stroke), "stroke-linejoin": "round", children: [
        /* @__PURE__ */ a3("path", { class: "ahead", d: line(rows, lost_s, Infinity) }),
        /* @__PURE__ */ a3("path", { class: "flown", d: line(rows, lost_s, time_s) })
      ] })),
      flight.lost_at_s !== null && first && /* @__PURE__ */ a3(Cross, { at: here(first.rows, flight.lost_at_s) }),
      [...tracks].reverse().map(({ rows, stroke }) => /* @__PURE__ */ a3(Mark, { stroke, at: here(rows, time_s), r: 5 }))
    ] });
  };
  var Cross = ({ at: [x2, y3] }) => {
    const d3 = `M${(x2 - 5).toFixed(1)} ${(y3 - 5).toFixed(1)}l10 10m0 -10l-10 10`;
    return /* @__PURE__ */ a3($, { children: [
      /* @__PURE__ */ a3("path", { d: d3, stroke: "var(--paper)", "stroke-width": "5" }),
      /* @__PURE__ */ a3("path", { d: d3, stroke: "var(--ink)", "stroke-width": "2.2" })
    ] });
  };

  // src/plan.tsx
  var on_path = (points, along_m) => {
    const next = Math.max(1, points.findIndex((point) => point.along_m >= along_m));
    const [a4, b] = [points[next - 1], points[next]];
    if (!a4 || !b) return { x_m: 0, y_m: 0, height_m: 0 };
    const part = b.along_m > a4.along_m ? Math.min(1, Math.max(0, (along_m - a4.along_m) / (b.along_m - a4.along_m))) : 0;
    const between = (of) => a4[of] + part * (b[of] - a4[of]);
    return { x_m: between("x_m"), y_m: between("y_m"), height_m: between("height_m") };
  };
  var nearest = (points, x_m, y_m, before_m, alike_m) => {
    const found = points.slice(1).map((b, index) => {
      const a4 = points[index] ?? b;
      const [dx, dy] = [b.x_m - a4.x_m, b.y_m - a4.y_m];
      const part = Math.min(1, Math.max(0, ((x_m - a4.x_m) * dx + (y_m - a4.y_m) * dy) / Math.max(1e-9, dx * dx + dy * dy)));
      const off_m = Math.hypot(a4.x_m + part * dx - x_m, a4.y_m + part * dy - y_m);
      return { along_m: a4.along_m + part * (b.along_m - a4.along_m), off_m };
    });
    const least_m = Math.min(...found.map(({ off_m }) => off_m));
    const alike = found.filter(({ off_m }) => off_m <= least_m + alike_m);
    const away = (at) => Math.abs(at.along_m - before_m);
    return alike.reduce((best, at) => away(at) < away(best) ? at : best, alike[0] ?? { along_m: 0, off_m: 0 }).along_m;
  };
  var Plan = ({ start, flight, time_s, control, cut_m, onCut }) => {
    const ground = T2(null);
    const over = T2(null);
    const { svg, scale } = start.plan;
    A2(() => {
      const drawn = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
      ground.current?.replaceChildren(drawn);
      over.current?.setAttribute("viewBox", drawn.getAttribute("viewBox") ?? "0 0 1 1");
    }, [svg]);
    const { points, length_m } = start.path;
    const lost = flight?.lost_m ?? null;
    const rest_m = lost ? nearest(points, lost[0], lost[1], 0, 0) : length_m / 2;
    const at_m = cut_m ?? rest_m;
    const here = on_path(points, at_m);
    const [x2, y3] = place(scale, here.x_m, here.y_m);
    const put = (along_m) => {
      const step = control?.step ?? 1;
      onCut(Math.min(control?.max ?? length_m, Math.max(control?.min ?? 0, Number((Math.round(along_m / step) * step).toFixed(6)))));
    };
    const drag = (event) => {
      const matrix = over.current?.querySelector("g")?.getScreenCTM();
      if (!matrix || !event.currentTarget.hasPointerCapture(event.pointerId)) return;
      const px = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
      const [left2, top2, right2, bottom2] = scale.box_px;
      const m_per_px = (scale.x[1] - scale.x[0]) / (right2 - left2);
      const north_m = scale.y[1] - (px.y - top2) / (bottom2 - top2) * (scale.y[1] - scale.y[0]);
      put(nearest(points, scale.x[0] + (px.x - left2) * m_per_px, north_m, at_m, 8 * m_per_px));
    };
    const press = (event) => {
      const step = Math.max(control?.step ?? 1, length_m / 200);
      const steps = {
        ArrowRight: step,
        ArrowUp: step,
        ArrowLeft: -step,
        ArrowDown: -step,
        PageUp: length_m / 10,
        PageDown: -length_m / 10,
        Home: -Infinity,
        End: Infinity
      };
      const by = steps[event.key];
      if (by === void 0) return;
      event.preventDefault();
      put(Math.min(length_m, Math.max(0, at_m + by)));
    };
    const unset = cut_m !== null ? "" : lost ? "not set; shown where this flight lost the link: " : "not set; shown half-way: ";
    const words = `${unset}${number(at_m)} m along the path, ${number(here.height_m)} m up`;
    const [left, top, right, bottom] = scale.box_px;
    return /* @__PURE__ */ a3("div", { class: "plan", children: [
      /* @__PURE__ */ a3("div", { ref: ground }),
      /* @__PURE__ */ a3("svg", { ref: over, class: "over", children: [
        /* @__PURE__ */ a3("clipPath", { id: "in-plan", children: /* @__PURE__ */ a3("rect", { x: left, y: top, width: right - left, height: bottom - top }) }),
        /* @__PURE__ */ a3("g", { transform: `scale(${start.plan.over})`, children: [
          /* @__PURE__ */ a3("g", { "clip-path": "url(#in-plan)", children: flight && /* @__PURE__ */ a3(Tracks, { flight, strokes: start.policies, scale, of: ["x_m", "y_m"], time_s }) }),
          control && /* @__PURE__ */ a3(
            "g",
            {
              class: `handle${cut_m === null ? " unset" : ""}`,
              role: "slider",
              tabindex: 0,
              "aria-label": "Place where the link is cut",
              "aria-valuemin": 0,
              "aria-valuemax": Math.round(length_m),
              "aria-valuenow": Math.round(at_m),
              "aria-valuetext": words,
              transform: `translate(${x2.toFixed(1)} ${y3.toFixed(1)})`,
              onKeyDown: press,
              onPointerMove: drag,
              onPointerDown: (event) => event.currentTarget.setPointerCapture(event.pointerId),
              children: [
                /* @__PURE__ */ a3("circle", { class: "reach", r: "20" }),
                /* @__PURE__ */ a3("circle", { class: "under", r: "12" }),
                /* @__PURE__ */ a3("circle", { class: "ring", r: "12" }),
                /* @__PURE__ */ a3("path", { class: "grip", d: "M-15.5 0l-5 -4v8zM15.5 0l5 -4v8z" }),
                /* @__PURE__ */ a3("circle", { class: "focus", r: "23" })
              ]
            }
          )
        ] })
      ] })
    ] });
  };

  // src/player.tsx
  var MOMENT_MS = 2500;
  var STANDS_MS = 700;
  var CLOSE_S = 0.011;
  var SPEEDS = [[0.5, "half"], [1, "as flown"], [2, "2 times"], [4, "4 times"], [10, "10 times"], [40, "40 times"]];
  var usePlayer = (flight) => {
    const [after_s, move] = d2(Infinity);
    const [playing, play] = d2(false);
    const [speed, setSpeed] = d2(4);
    const [from_s, to_s] = w2(() => flight ? span(flight) : [0, 0], [flight]);
    const zero_s = flight?.lost_at_s ?? from_s;
    const time_s = Math.min(to_s, Math.max(from_s, zero_s + after_s));
    const moments = w2(() => {
      const times = (flight?.sentences ?? []).flatMap(({ time_s: time_s2 }) => time_s2 === null || time_s2 < from_s ? [] : [time_s2]);
      return [...new Set(times)].sort((a4, b) => a4 - b);
    }, [flight, from_s]);
    const now = T2(time_s);
    now.current = time_s;
    const go = (to) => {
      now.current = Math.min(to_s, Math.max(from_s, to));
      move(now.current >= to_s ? Infinity : now.current - zero_s);
    };
    const jump = (way) => {
      const next = way > 0 ? moments.find((at) => at > now.current + 0.05) : moments.filter((at) => at < now.current - 0.05).at(-1);
      go(next ?? (way > 0 ? to_s : from_s));
    };
    A2(() => {
      if (!playing) return;
      let next = 0;
      const ended = () => {
        if (now.current >= to_s) play(false);
        return now.current >= to_s;
      };
      if (matchMedia("(prefers-reduced-motion: reduce)").matches) {
        const leap = () => {
          jump(1);
          if (!ended()) next = window.setTimeout(leap, MOMENT_MS / Math.max(1, speed / 4));
        };
        leap();
        return () => clearTimeout(next);
      }
      let last_ms = performance.now();
      const tick = (at_ms) => {
        go(now.current + Math.min(Math.max(0, at_ms - last_ms) / 1e3, 0.25) * speed);
        last_ms = at_ms;
        if (!ended()) next = requestAnimationFrame(tick);
      };
      next = requestAnimationFrame(tick);
      return () => cancelAnimationFrame(next);
    }, [playing, speed, flight]);
    return {
      time_s,
      from_s,
      to_s,
      playing,
      speed,
      setSpeed,
      moments,
      stop: () => play(false),
      toggle: () => {
        if (!playing && time_s >= to_s) go(from_s);
        play(!playing);
      },
      go: (to) => {
        play(false);
        go(to);
      },
      jump: (way) => {
        play(false);
        jump(way);
      }
    };
  };
  var said = (flight, time_s) => {
    const timed = flight.sentences.filter((sentence) => sentence.time_s !== null);
    const at_s = Math.max(...timed.filter((sentence) => sentence.time_s <= time_s + CLOSE_S).map((sentence) => sentence.time_s));
    const current = timed.filter((sentence) => Math.abs(sentence.time_s - at_s) < CLOSE_S);
    const shared = current.filter(({ policy }) => policy === null);
    const first = current.filter(({ policy }, at) => current.findIndex((other) => other.policy === policy) === at);
    const told = (shared.length > 0 ? shared.slice(0, 1) : first).map((sentence) => spoken(flight, sentence));
    return current.length === 0 ? "" : `${number(at_s, 1)} s. ${told.join(" ")}`;
  };
  var spoken = (flight, { policy, text }) => `${policy === null ? "" : `Under “${flight.policies[policy]?.name ?? ""}”: `}${text}`;
  var PlayerBar = ({ flight, player }) => {
    const { time_s, from_s, to_s, playing } = player;
    const sentence = said(flight, time_s);
    const [read2, setRead] = d2("");
    A2(() => {
      const timer = setTimeout(() => setRead(sentence), STANDS_MS);
      return () => clearTimeout(timer);
    }, [sentence]);
    const after = time_s - (flight.lost_at_s ?? 0);
    const clock = flight.lost_at_s === null ? `${number(time_s, 1)} s after take-off` : `${number(time_s, 1)} s; ${number(Math.abs(after), 1)} s ${after < 0 ? "before" : "after"} the loss`;
    return /* @__PURE__ */ a3("div", { class: "player", role: "group", "aria-label": "Play the flight", children: [
      /* @__PURE__ */ a3("div", { class: "buttons", children: [
        /* @__PURE__ */ a3("button", { type: "button", class: "play", onClick: player.toggle, children: playing ? "Pause" : "Play" }),
        /* @__PURE__ */ a3("button", { type: "button", onClick: () => player.go(time_s - 1), children: [
          "−",
          "1 s"
        ] }),
        /* @__PURE__ */ a3("button", { type: "button", onClick: () => player.go(time_s + 1), children: "+1 s" }),
        /* @__PURE__ */ a3("button", { type: "button", onClick: () => player.jump(-1), children: "Previous moment" }),
        /* @__PURE__ */ a3("button", { type: "button", onClick: () => player.jump(1), children: "Next moment" }),
        /* @__PURE__ */ a3("label", { children: [
          "Speed ",
          /* @__PURE__ */ a3("select", { value: player.speed, onChange: (event) => player.setSpeed(Number(event.currentTarget.value)), children: SPEEDS.map(([speed, words]) => /* @__PURE__ */ a3("option", { value: speed, children: words })) })
        ] }),
        /* @__PURE__ */ a3("span", { class: "clock", children: clock })
      ] }),
      /* @__PURE__ */ a3(
        "input",
        {
          type: "range",
          class: "time",
          "aria-label": "Time of the flight",
          "aria-valuetext": clock,
          min: Math.floor(10 * from_s) / 10,
          max: Math.ceil(10 * to_s) / 10,
          step: "0.1",
          value: time_s,
          onInput: (event) => player.go(Number(event.currentTarget.value))
        }
      ),
      /* @__PURE__ */ a3("p", { class: "now", children: sentence }),
      /* @__PURE__ */ a3("p", { class: "heard", "aria-live": "polite", children: read2 })
    ] });
  };

  // src/state.ts
  var read = (hash) => new Map(new URLSearchParams(hash.replace(/^#/, "")));
  var write = (state) => [...state].sort(([a4], [b]) => a4 < b ? -1 : 1).map(([key, value]) => `${encodeURIComponent(key)}=${encodeURIComponent(value).replaceAll("%2C", ",")}`).join("&");
  var changed = (state, key, value) => {
    const next = new Map(state);
    if (value === null) next.delete(key);
    else next.set(key, value);
    return next;
  };

  // src/requests.ts
  var GAP_MS = [80, 500];
  var REST_MS = 300;
  var ADDRESS_MS = 150;
  var STEP_MS = 1e3;
  var GONE = "The program does not answer: it has ended, or its terminal was closed. Start it again with the same port, then retry; what is set here is kept.";
  var useAnswer = (asked, at_rest, run) => {
    const [trouble, setTrouble] = d2(null);
    const last = T2({ at_ms: -Infinity, gap_ms: 0, answered: true, abort: new AbortController() });
    A2(() => {
      const { at_ms, gap_ms } = last.current;
      const since_ms = performance.now() - at_ms;
      const timer = setTimeout(() => {
        last.current.abort.abort();
        const abort = new AbortController();
        const gap_ms2 = last.current.gap_ms * (last.current.answered ? 1 / 1.5 : 1.5);
        const now = { at_ms: performance.now(), gap_ms: Math.min(GAP_MS[1], Math.max(GAP_MS[0], gap_ms2)), answered: false, abort };
        last.current = now;
        setTrouble(null);
        run(abort.signal, () => {
          now.answered = true;
        }).catch((error) => {
          if (abort.signal.aborted) return;
          now.answered = true;
          if (error instanceof Gone) setTrouble(GONE);
          else setTrouble(error instanceof Refused ? error.message : `The answer of the program could not be read: ${String(error)}`);
        });
      }, at_rest && at_ms > 0 ? REST_MS : Math.max(0, gap_ms - since_ms));
      return () => clearTimeout(timer);
    }, [asked]);
    return trouble;
  };
  var useAddress = () => {
    const [state, setState] = d2(() => read(location.hash));
    const pushed_ms = T2(-Infinity);
    A2(() => {
      const follow = () => setState(read(location.hash));
      addEventListener("popstate", follow);
      return () => removeEventListener("popstate", follow);
    }, []);
    const text = write(state);
    A2(() => {
      const timer = setTimeout(() => {
        if (write(read(location.hash)) === text) return;
        const address = text === "" ? location.pathname : `#${text}`;
        if (performance.now() - pushed_ms.current > STEP_MS) history.pushState(null, "", address);
        else history.replaceState(null, "", address);
        pushed_ms.current = performance.now();
      }, ADDRESS_MS);
      return () => clearTimeout(timer);
    }, [text]);
    return [state, setState];
  };

  // src/shares.tsx
  var Bar = ({ of }) => {
    const x2 = (per_1000) => 3 + 0.084 * per_1000;
    return /* @__PURE__ */ a3("svg", { class: "bar", viewBox: "0 0 90 10", width: "90", height: "10", "aria-hidden": "true", children: [
      /* @__PURE__ */ a3("path", { class: "axis", d: "M3 5H87M3 2v6M87 2v6" }),
      /* @__PURE__ */ a3("path", { class: "interval", d: `M${x2(of.low).toFixed(1)} 5H${x2(of.high).toFixed(1)}` }),
      /* @__PURE__ */ a3("path", { class: "found", d: `M${x2(of.per_1000).toFixed(1)} 0.5v9` })
    ] });
  };
  var progress = (shares, stale) => {
    if (!shares) return "The first flights are flown.";
    if (stale) return "What is set has changed: these numbers are of the state before; new ones are on their way.";
    const flown = `${number(shares.flights)} of ${number(shares.of)} flights`;
    const lost = `${number(shares.links_lost)} links lost`;
    return shares.done ? `Final: ${flown}, ${lost}.` : `Preliminary: ${flown}, ${lost} so far.`;
  };
  var SharesTable = ({ start, shares, stale }) => {
    const preliminary = stale || !shares.done;
    const seen = start.tiers.filter(({ key }) => shares.policies.some(({ tiers }) => tiers.some((tier) => tier.key === key && tier.count > 0)));
    const unseen = start.tiers.filter((tier) => !seen.includes(tier));
    const none = shares.policies.flatMap(({ tiers }) => tiers.filter((tier) => unseen.some(({ key }) => key === tier.key)));
    return /* @__PURE__ */ a3($, { children: [
      /* @__PURE__ */ a3("div", { class: "wide-table", tabindex: 0, role: "group", "aria-label": "Shares of each policy", children: /* @__PURE__ */ a3("table", { class: preliminary ? "preliminary" : "", children: [
        /* @__PURE__ */ a3("caption", { children: /* @__PURE__ */ a3("span", { children: [
          "Of 1,000 lost links, with ",
          number(100 * start.confidence),
          " % intervals",
          preliminary ? " (preliminary)" : ""
        ] }) }),
        /* @__PURE__ */ a3("thead", { children: /* @__PURE__ */ a3("tr", { children: [
          /* @__PURE__ */ a3("th", { scope: "col", children: "policy" }),
          [...seen.map(({ label }) => label), "back home"].map((label) => /* @__PURE__ */ a3("th", { scope: "col", class: "n", children: label }))
        ] }) }),
        /* @__PURE__ */ a3("tbody", { children: shares.policies.map((policy, index) => {
          const stroke = start.policies[index];
          const cells = [...seen.map(({ key }) => policy.tiers.find((tier) => tier.key === key)), policy.home];
          return /* @__PURE__ */ a3("tr", { children: [
            /* @__PURE__ */ a3("th", { scope: "row", children: [
              stroke && /* @__PURE__ */ a3(Sample, { stroke }),
              " ",
              policy.name
            ] }),
            cells.map((of) => {
              const { value, interval } = of ? share(of, shares.links_lost) : { value: "–", interval: "" };
              return /* @__PURE__ */ a3("td", { class: "n", children: [
                value,
                of && interval !== "" && /* @__PURE__ */ a3($, { children: [
                  /* @__PURE__ */ a3("small", { children: interval }),
                  /* @__PURE__ */ a3(Bar, { of })
                ] })
              ] });
            })
          ] });
        }) })
      ] }) }),
      unseen.length > 0 && shares.links_lost > 0 && /* @__PURE__ */ a3("p", { class: "none", children: [
        "None seen under any policy: ",
        unseen.map(({ label }) => label).join(", "),
        ". Seeing none does not mean that none can occur: the upper bound is ",
        at_most(Math.max(...none.map(({ high }) => high))),
        " of 1,000."
      ] })
    ] });
  };

  // src/side.tsx
  var WIDE = 420;
  var HIGH = 288;
  var BOX = [44, 26, WIDE - 10, HIGH - 44];
  var ticks = (from, to, about) => {
    const rough = (to - from) / about;
    const ten = 10 ** Math.floor(Math.log10(rough));
    const step = ten * ([1, 2, 5].find((times) => times * ten >= rough) ?? 10);
    const first = Math.ceil(from / step - 1e-9);
    return { step, values: Array.from({ length: Math.floor(to / step + 1e-9) - first + 1 }, (_3, index) => (first + index) * step) };
  };
  var Side = ({ start, flight, time_s }) => {
    const heights = [0, ...flight.cut.points.map(([, surface_m]) => surface_m), ...flight.policies.flatMap(({ rows }) => rows.height_m)];
    const alongs = flight.cut.points.map(([along_m]) => along_m);
    const [least, most] = [Math.min(...heights), Math.max(...heights)];
    const { step } = ticks(least, Math.max(most, least + 1), 4);
    const high = step * Math.ceil(most / step + 0.05);
    const scale = { box_px: BOX, x: [Math.min(...alongs), Math.max(...alongs)], y: [least - 0.06 * (high - least), high] };
    const [left, top, right, bottom] = BOX;
    const across = ticks(scale.x[0], scale.x[1], 5).values;
    const up2 = ticks(scale.y[0], scale.y[1], 4).values;
    const ground = flight.cut.points.map(([along_m, surface_m]) => place(scale, along_m, surface_m).map((px) => px.toFixed(1)).join(" ")).join("L");
    const [home_x, home_y] = place(scale, 0, 0);
    const ends = flight.policies.map(({ name, outcome }) => `${name}: ${outcome}.`).join(" ");
    return /* @__PURE__ */ a3("svg", { class: "side", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": `Height over distance of flight ${flight.flight}. ${ends}`, children: [
      /* @__PURE__ */ a3("g", { class: "axes", "aria-hidden": "true", children: [
        /* @__PURE__ */ a3("text", { x: left - 34, y: top - 12, children: "Height above the take-off spot / m" }),
        up2.map((value) => /* @__PURE__ */ a3("g", { children: [
          /* @__PURE__ */ a3("path", { class: "grid", d: `M${left} ${place(scale, 0, value)[1].toFixed(1)}H${right}` }),
          /* @__PURE__ */ a3("text", { class: "end", x: left - 6, y: place(scale, 0, value)[1] + 4, children: number(value) })
        ] })),
        across.map((value) => /* @__PURE__ */ a3("g", { children: [
          /* @__PURE__ */ a3("path", { class: "tick", d: `M${place(scale, value, 0)[0].toFixed(1)} ${bottom}v5` }),
          /* @__PURE__ */ a3("text", { class: "middle", x: place(scale, value, 0)[0], y: bottom + 18, children: number(value) })
        ] })),
        /* @__PURE__ */ a3("text", { class: "middle", x: (left + right) / 2, y: HIGH - 8, children: "Along the line from take-off to the loss / m" })
      ] }),
      /* @__PURE__ */ a3("clipPath", { id: "in-side", children: /* @__PURE__ */ a3("rect", { x: left, y: top, width: right - left, height: bottom - top }) }),
      /* @__PURE__ */ a3("g", { "clip-path": "url(#in-side)", children: [
        /* @__PURE__ */ a3("path", { class: "ground", d: `M${left} ${bottom}L${ground}L${right} ${bottom}z` }),
        /* @__PURE__ */ a3("path", { class: "surface", d: `M${ground}` }),
        /* @__PURE__ */ a3("circle", { class: "home", cx: home_x, cy: home_y, r: "5" }),
        /* @__PURE__ */ a3(Tracks, { flight, strokes: start.policies, scale, of: ["along_m", "height_m"], time_s })
      ] }),
      /* @__PURE__ */ a3("path", { class: "frame", d: `M${left} ${top}V${bottom}H${right}`, "aria-hidden": "true" })
    ] });
  };

  // src/live.tsx
  var PAGE = Array.from(crypto.getRandomValues(new Uint8Array(8)), (byte) => byte.toString(16).padStart(2, "0")).join("");
  var CUTS = [["", "As the scenario says"], ["radio", "Let the radio decide"]];
  var Outcomes = ({ start, flight, time_s }) => {
    const [home_x, home_y] = start.path.home_m;
    return /* @__PURE__ */ a3("div", { class: "wide-table", tabindex: 0, role: "group", "aria-label": "What each policy did in this flight", children: /* @__PURE__ */ a3("table", { children: [
      /* @__PURE__ */ a3("thead", { children: /* @__PURE__ */ a3("tr", { children: [
        /* @__PURE__ */ a3("th", { scope: "col", children: "policy" }),
        /* @__PURE__ */ a3("th", { scope: "col", class: "onlyscreen", children: "at this moment" }),
        /* @__PURE__ */ a3("th", { scope: "col", children: "how this flight ends" })
      ] }) }),
      /* @__PURE__ */ a3("tbody", { children: flight.policies.map(({ name, rows, outcome, tier }, index) => {
        const stroke = start.policies[index];
        const away_m = Math.hypot(value_at(rows, "x_m", time_s) - home_x, value_at(rows, "y_m", time_s) - home_y);
        const ended = time_s >= (rows.time_s.at(-1) ?? 0) - 1e-6;
        const label = start.tiers.find(({ key }) => key === tier)?.label;
        return /* @__PURE__ */ a3("tr", { children: [
          /* @__PURE__ */ a3("th", { scope: "row", children: [
            stroke && /* @__PURE__ */ a3(Sample, { stroke }),
            " ",
            name,
            /* @__PURE__ */ a3("small", { class: "onlypaper", children: stroke?.words })
          ] }),
          /* @__PURE__ */ a3("td", { class: "onlyscreen", children: [
            ended ? "ended" : rows.doing[row_at(rows, time_s)],
            /* @__PURE__ */ a3("small", { children: [
              number(value_at(rows, "height_m", time_s)),
              " m up, ",
              number(away_m),
              " m away"
            ] })
          ] }),
          /* @__PURE__ */ a3("td", { children: [
            outcome,
            label && /* @__PURE__ */ a3("small", { children: label })
          ] })
        ] });
      }) })
    ] }) });
  };
  var ThisFlight = ({ start, flight, player, onFlight }) => /* @__PURE__ */ a3("section", { class: "flight", "aria-labelledby": "flight-heading", children: [
    /* @__PURE__ */ a3("div", { class: "row", children: [
      /* @__PURE__ */ a3("h2", { id: "flight-heading", children: [
        "Flight ",
        flight.flight,
        flight.lost_at_s === null ? ": its link was never called lost" : " under every policy, with the same luck"
      ] }),
      /* @__PURE__ */ a3("span", { class: "onlyscreen row", children: [
        /* @__PURE__ */ a3("button", { type: "button", onClick: () => onFlight(null), children: "A typical flight" }),
        /* @__PURE__ */ a3("button", { type: "button", disabled: flight.flight === 0, onClick: () => onFlight(flight.flight - 1), children: "Flight before" }),
        /* @__PURE__ */ a3("button", { type: "button", disabled: flight.flight >= start.flights - 1, onClick: () => onFlight(flight.flight + 1), children: "Next flight" })
      ] })
    ] }),
    /* @__PURE__ */ a3("p", { class: flight.lost_at_s === null ? "" : "onlypaper", children: flight.answer }),
    /* @__PURE__ */ a3(PlayerBar, { flight, player }),
    /* @__PURE__ */ a3("details", { children: [
      /* @__PURE__ */ a3("summary", { children: "The whole story of this flight" }),
      /* @__PURE__ */ a3("p", { children: [
        flight.answer,
        " This is ",
        flight.picked,
        "."
      ] }),
      /* @__PURE__ */ a3("ul", { children: start.policies.map(({ name, words }) => /* @__PURE__ */ a3("li", { children: `“${name}”: ${words}.` })) }),
      /* @__PURE__ */ a3("ol", { children: flight.sentences.map((sentence) => /* @__PURE__ */ a3("li", { value: sentence.number, children: [
        sentence.time_s === null ? "" : `${number(sentence.time_s, 1)} s: `,
        spoken(flight, sentence)
      ] })) })
    ] })
  ] });
  var ManyFlights = ({ start, shares, stale }) => /* @__PURE__ */ a3("section", { class: "many", "aria-labelledby": "many-heading", children: [
    /* @__PURE__ */ a3("h2", { id: "many-heading", children: "Over many flights" }),
    /* @__PURE__ */ a3("p", { class: "progress", children: [
      /* @__PURE__ */ a3("progress", { "aria-label": "Flights flown", max: shares?.of ?? 1, value: stale ? 0 : shares?.flights ?? 0 }),
      " ",
      /* @__PURE__ */ a3("span", { children: progress(shares, stale) })
    ] }),
    /* @__PURE__ */ a3("div", { role: "status", children: shares?.answer && !stale ? /* @__PURE__ */ a3($, { children: [
      /* @__PURE__ */ a3("p", { class: "answer", children: shares.answer.headline }),
      /* @__PURE__ */ a3("p", { class: "sure", children: shares.answer.sure })
    ] }) : /* @__PURE__ */ a3("p", { class: "answer wait", children: "The answer comes with the last flight." }) }),
    shares && /* @__PURE__ */ a3(SharesTable, { start, shares, stale })
  ] });
  var Settings = ({ start, state, set, reset }) => {
    const [said2, say] = d2("");
    const query = write(changed(state, "flight", null));
    const copy = () => {
      const link = `${location.origin}${location.pathname}#${write(state)}`;
      navigator.clipboard.writeText(link).then(() => say("Link copied."), () => say(`The browser did not allow it. The link: ${link}`));
    };
    return /* @__PURE__ */ a3("section", { class: "settings", "aria-labelledby": "settings-heading", children: [
      /* @__PURE__ */ a3("h2", { id: "settings-heading", children: "What is set" }),
      /* @__PURE__ */ a3("p", { class: "onlyscreen row", children: [
        /* @__PURE__ */ a3("button", { type: "button", onClick: copy, children: "Copy link" }),
        /* @__PURE__ */ a3("a", { class: "button", href: url("scenario.toml", query), download: true, children: "Save scenario" }),
        /* @__PURE__ */ a3("button", { type: "button", onClick: reset, disabled: query === "", children: "Reset all" }),
        /* @__PURE__ */ a3("span", { role: "status", children: said2 })
      ] }),
      /* @__PURE__ */ a3("p", { class: "onlyscreen note", children: "What is set here is the same for all flights." }),
      /* @__PURE__ */ a3("div", { class: "onlyscreen moving", children: /* @__PURE__ */ a3(Controls, { controls: start.controls, value: (key) => state.get(key) ?? null, onSet: set }) }),
      /* @__PURE__ */ a3("table", { class: "onlypaper", children: /* @__PURE__ */ a3("tbody", { children: start.controls.map((control) => /* @__PURE__ */ a3("tr", { children: [
        /* @__PURE__ */ a3("th", { scope: "row", children: control.label }),
        /* @__PURE__ */ a3("td", { children: in_words(control, state.get(control.key) ?? null) }),
        /* @__PURE__ */ a3("td", { class: "n", children: state.has(control.key) ? "changed here" : "as in the scenario" })
      ] })) }) })
    ] });
  };
  var Live = () => {
    const [state, setState] = useAddress();
    const [attempt, again] = d2(0);
    const [start, setStart] = d2(null);
    const [flight, setFlight] = d2(null);
    const [shares, setShares] = d2(null);
    const player = usePlayer(flight);
    const query = write(changed(state, "flight", null));
    const troubles = [
      useAnswer(`${query} ${attempt}`, true, async (signal) => setStart(await ask_start(query, signal))),
      useAnswer(`${write(state)} ${attempt}`, false, async (signal, answered) => {
        setFlight(await ask_flight(write(state), signal));
        answered();
      }),
      useAnswer(`${query} ${attempt}`, false, (signal, answered) => ask_shares(query, PAGE, signal, (line) => {
        setShares({ of: query, line });
        answered();
      }))
    ];
    const trouble = troubles.find((text) => text !== null);
    A2(() => {
      if (start) document.title = `${start.title}: live`;
    }, [start?.title]);
    const set = (key, value) => setState((before) => {
      const held = before.has("flight") || !flight ? before : changed(before, "flight", String(flight.flight));
      return changed(held, key, value);
    });
    const show = (flight2) => setState((before) => changed(before, "flight", flight2 === null ? null : String(flight2)));
    const cut = start?.controls.find(({ key }) => key === "cut_m");
    const cut_set = state.get("cut_m");
    const cut_number = Number(cut_set ?? cut?.initial ?? NaN);
    const cut_m = Number.isNaN(cut_number) ? null : cut_number;
    const to_main = (event) => {
      event.preventDefault();
      document.getElementById("main")?.focus();
    };
    return /* @__PURE__ */ a3($, { children: [
      /* @__PURE__ */ a3("a", { class: "skip", href: "#main", onClick: to_main, children: "Skip to the plan" }),
      /* @__PURE__ */ a3("header", { children: [
        /* @__PURE__ */ a3("p", { class: "kind", children: [
          "Live page",
          start?.invented && /* @__PURE__ */ a3($, { children: [
            " · ",
            /* @__PURE__ */ a3("span", { class: "invented", children: "invented place and craft" })
          ] })
        ] }),
        /* @__PURE__ */ a3("h1", { children: start?.title ?? "lostlink" }),
        /* @__PURE__ */ a3("p", { class: "question", children: start?.headline }),
        start && start.about !== "" && /* @__PURE__ */ a3("details", { children: [
          /* @__PURE__ */ a3("summary", { children: "What the scenario asks" }),
          /* @__PURE__ */ a3("p", { children: start.about })
        ] }),
        start?.cautions[0] && /* @__PURE__ */ a3("p", { class: "caution", children: start.cautions[0] }),
        trouble && /* @__PURE__ */ a3("div", { class: "trouble", role: "alert", children: [
          /* @__PURE__ */ a3("p", { children: trouble }),
          /* @__PURE__ */ a3("button", { type: "button", onClick: () => again(attempt + 1), children: "Retry" }),
          state.size > 0 && /* @__PURE__ */ a3("button", { type: "button", onClick: () => setState(() => /* @__PURE__ */ new Map()), children: "Reset all" })
        ] })
      ] }),
      /* @__PURE__ */ a3("main", { id: "main", tabindex: -1, children: start && /* @__PURE__ */ a3($, { children: [
        /* @__PURE__ */ a3("section", { class: "above", "aria-labelledby": "above-heading", children: [
          /* @__PURE__ */ a3("h2", { id: "above-heading", children: "From above" }),
          /* @__PURE__ */ a3(Plan, { start, flight, time_s: player.time_s, control: cut, cut_m, onCut: (along_m) => set("cut_m", String(along_m)) }),
          cut && /* @__PURE__ */ a3("div", { class: "onlyscreen", children: [
            /* @__PURE__ */ a3("p", { class: "note", children: "The ring is where the link is cut, broken while nothing is set: drag it along the path, or move it with the arrow keys. The cross is where the receiver calls the link lost." }),
            /* @__PURE__ */ a3("div", { class: "row", role: "group", "aria-label": "What makes the link go", children: CUTS.map(([value, words]) => /* @__PURE__ */ a3("button", { type: "button", "aria-pressed": (cut_set ?? "") === value, onClick: () => set("cut_m", value || null), children: words })) })
          ] })
        ] }),
        /* @__PURE__ */ a3("section", { class: "beside", "aria-labelledby": "beside-heading", children: [
          /* @__PURE__ */ a3("h2", { id: "beside-heading", children: "From the side" }),
          flight && /* @__PURE__ */ a3(Side, { start, flight, time_s: player.time_s }),
          flight && /* @__PURE__ */ a3(Outcomes, { start, flight, time_s: player.time_s })
        ] }),
        flight && /* @__PURE__ */ a3(ThisFlight, { start, flight, player, onFlight: show }),
        /* @__PURE__ */ a3(Settings, { start, state, set, reset: () => setState(() => /* @__PURE__ */ new Map()) }),
        /* @__PURE__ */ a3(ManyFlights, { start, shares: shares?.line ?? null, stale: shares !== null && shares.of !== query }),
        /* @__PURE__ */ a3("section", { class: "box", "aria-labelledby": "warnings", children: [
          /* @__PURE__ */ a3("h2", { id: "warnings", children: "What these numbers are not" }),
          /* @__PURE__ */ a3("ol", { children: start.cautions.slice(1).map((line) => /* @__PURE__ */ a3("li", { children: line })) })
        ] })
      ] }) }),
      /* @__PURE__ */ a3("footer", { children: /* @__PURE__ */ a3("p", { children: start && `lostlink ${start.version}, seed ${start.seed}, ${number(start.flights)} flights.` }) })
    ] });
  };
  var page = document.getElementById("page");
  if (page) {
    page.replaceChildren();
    Q(/* @__PURE__ */ a3(Live, {}), page);
  }
})();
