/* The arithmetic of the ranking: numbers in, numbers out. docs/methods.md has the formulas with
   their sources; the program's own are in kb/faults, term for term the same. */
(function () {
  "use strict";

  var MOST = 300;   /* beyond this the exponential would leave the range of numbers */

  /* ---- functions of one number */

  /* Abramowitz & Stegun (1964): recurrence 6.4.6 up to 10, then the series 6.4.12. */
  function trigamma(x) {
    var total = 0;
    while (x < 10) {
      total += 1 / (x * x);
      x += 1;
    }
    var y = 1 / (x * x);
    var series = y * (1 / 6 - y * (1 / 30 - y * (1 / 42 - y * (1 / 30 - y * (5 / 66 - y * 691 / 2730)))));
    return total + (1 + 0.5 / x + series) / x;
  }

  function inverseLogit(x) {
    if (x >= 0) { return 1 / (1 + Math.exp(-x)); }
    var e = Math.exp(x);
    return e / (1 + e);
  }

  function xLogX(x) { return x > 0 ? x * Math.log(x) : 0; }

  function total(values) {
    var sum = 0;
    for (var i = 0; i < values.length; i += 1) { sum += values[i]; }
    return sum;
  }

  function totalBut(values, place) {
    var before = 0, after = 0;
    for (var i = 0; i < place; i += 1) { before += values[i]; }
    for (i = place + 1; i < values.length; i += 1) { after += values[i]; }
    return before + after;
  }

  function placeOfLargest(values) {
    var best = 0;
    for (var i = 1; i < values.length; i += 1) { if (values[i] > values[best]) { best = i; } }
    return best;
  }

  /* ---- from scores to probabilities, odds and intervals */

  function probabilities(scores) {
    var top = scores[placeOfLargest(scores)];
    var raised = scores.map(function (s) { return Math.exp(s - top); });
    var sum = total(raised);
    return raised.map(function (r) { return r / sum; });
  }

  function logOdds(scores) {
    if (scores.length === 1) { return Float64Array.of(Infinity); }
    var first = placeOfLargest(scores), top = scores[first], best = -Infinity, others = 0;
    var raised = scores.map(function (s) { return Math.exp(s - top); });
    var sum = total(raised);
    scores.forEach(function (s, i) { if (i !== first && s > best) { best = s; } });
    /* Against the leader, the rivals are summed by themselves: 1 - p would lose them to rounding. */
    scores.forEach(function (s, i) { if (i !== first) { others += Math.exp(s - best); } });
    var lead = top - best - Math.log(others);
    return scores.map(function (s, i) {
      return i === first ? lead : s - top - Math.log(sum - raised[i]);
    });
  }

  /* For each hypothesis the mean of a value over all others, by their probability. */
  function rivalMeans(p, values) {
    var products = values.map(function (x, i) { return p[i] * x; });
    var first = placeOfLargest(p), whole = total(products);
    var means = products.map(function (product, i) {
      return p[i] < 1 ? (whole - product) / (1 - p[i]) : 0;
    });
    var rest = totalBut(p, first);
    means[first] = rest ? totalBut(products, first) / rest : values[first];
    return means;
  }

  function intervals(p, odds, down, up, weighing, z) {
    var parts = p.map(function (x, i) { return x * x * Math.expm1(Math.min(up[i], MOST)); });
    var whole = total(parts), largest = placeOfLargest(parts);
    var low = new Float64Array(p.length), high = new Float64Array(p.length);
    odds.forEach(function (own, i) {
      var rivals = i === largest ? totalBut(parts, largest) : whole - parts[i];
      var rest = inverseLogit(-own), spread = rest ? Math.sqrt(rivals) / rest : 0;
      var r = Math.log1p(spread * spread) + weighing[i];
      low[i] = inverseLogit(own - z * Math.sqrt(down[i] + r));
      high[i] = inverseLogit(own + z * Math.sqrt(up[i] + r));
    });
    return { low: low, high: high };
  }

  /* ---- rates: of one piece of evidence, for each cause */

  function meansOf(rates) {
    var a = rates.shrinkage;
    return rates.seen.map(function (seen, c) {
      var base = a * (rates.expected ? rates.expected[c] : rates.typical);
      return (seen + base) / (rates.made[c] + a);
    });
  }

  /* A cause that is not in the book: the power mean over those that are, each as often as it came. */
  function rateOfUnseen(made, means, power) {
    var faults = 0, mean = 0;
    for (var c = 0; c < means.length; c += 1) {
      if (made[c] > 0) {
        faults += made[c];
        mean += made[c] * Math.pow(means[c], power);
      }
    }
    return Math.pow(mean / faults, 1 / power);
  }

  /* `chain` holds the counts of a symptom and of all it is a kind of, nearest first. */
  function notedRates(chain, totals, shrinkage) {
    var faults = total(totals), above = faults + 1, rates = null;
    chain.slice().reverse().forEach(function (seen) {
      var noted = total(seen), share = (noted + 0.5) / above;
      rates = {
        seen: seen, made: totals, shrinkage: shrinkage, typical: share,
        pooled: [noted + 0.5, faults - noted + 0.5],
        expected: rates ? meansOf(rates).map(function (mean) { return share * mean; }) : null
      };
      above = noted + 0.5;
    });
    return rates;
  }

  /* The symptom looked for and not there. */
  function turned(rates) {
    return {
      seen: rates.made.map(function (n, c) { return n - rates.seen[c]; }),
      made: rates.made, shrinkage: rates.shrinkage, typical: 1 - rates.typical,
      pooled: [rates.pooled[1], rates.pooled[0]],
      expected: rates.expected && rates.expected.map(function (base) { return 1 - base; })
    };
  }

  /* Each outcome of a check leans on the median over the causes in which it was made, the pool
     counting as one more: a check is made because its culprit is suspected already. */
  function checkRates(rows, shrinkage, size) {
    var made = new Float64Array(size), which = [], rates = [];
    rows.forEach(function (row) { row.forEach(function (n, c) { made[c] += n; }); });
    made.forEach(function (n, c) { if (n > 0) { which.push(c); } });
    var sum = total(made);
    var base = rows.map(function (row) {
      var noted = total(row);
      if (!noted) { return 0; }
      var shares = which.map(function (c) { return row[c] / made[c]; });
      shares.sort(function (a, b) { return a - b; });
      var middle = shares.length >> 1;
      var median = shares.length % 2 ? shares[middle] : (shares[middle - 1] + shares[middle]) / 2;
      return which.length * median + noted / sum;
    });
    var whole = total(base);
    rows.forEach(function (row, outcome) {
      var noted = total(row);
      rates.push(noted ? {
        seen: row, made: made, which: which, shrinkage: shrinkage, typical: base[outcome] / whole,
        pooled: [noted, sum - noted], expected: null
      } : null);
    });
    return rates;
  }

  /* The rates of an outcome taken with a weight, once: of the causes in which the check was made. */
  function tempered(rates, weight, power) {
    if (rates.tempered) { return rates.tempered; }
    var all = meansOf(rates), which = rates.which, made = rates.made;
    var faults = 0, pooled = 0, common = 0, typical = Math.pow(rates.typical, weight), most = typical;
    var means = which.map(function (c) { return all[c]; });
    var powers = means.map(function (r) { return Math.pow(r, weight); });
    which.forEach(function (c, i) {
      faults += made[c];
      pooled += made[c] * means[i];
      common += made[c] * Math.pow(means[i], power);
      most = Math.max(most, powers[i]);
    });
    var likelihoods = new Float64Array(all.length).fill(typical);
    which.forEach(function (c, i) { likelihoods[c] = powers[i]; });
    rates.tempered = {
      means: means, powers: powers, likelihoods: likelihoods, typical: typical, most: most,
      logs: powers.map(function (x) { return x * Math.log(x); }),
      pooled: pooled / faults, ofUnseen: Math.pow(common / faults, weight / power)
    };
    return rates.tempered;
  }

  window.reckoning = {
    trigamma: trigamma, xLogX: xLogX, total: total, probabilities: probabilities, logOdds: logOdds,
    rivalMeans: rivalMeans, intervals: intervals, meansOf: meansOf, rateOfUnseen: rateOfUnseen,
    notedRates: notedRates, turned: turned, checkRates: checkRates, tempered: tempered
  };
})();
