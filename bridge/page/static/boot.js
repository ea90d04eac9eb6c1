// Asks again for every style and script that did not come, with longer and longer pauses, until the page is whole.
(function () {
  var turn = 0;
  addEventListener(
    "error",
    function (event) {
      var lost = event.target;
      if (!lost || !lost.hasAttribute || !lost.hasAttribute("data-needed")) return;
      turn += 1; // no address is used twice
      var own = Number(lost.getAttribute("data-needed")) + 1;
      var news = document.getElementById("news");
      if (news) news.textContent = "A part of this page did not come; asked again.";
      setTimeout(function () {
        var again = document.createElement(lost.localName);
        for (var one of lost.attributes) again.setAttribute(one.name, one.value);
        again.setAttribute("data-needed", own);
        var name = lost.localName === "link" ? "href" : "src";
        again.setAttribute(name, "/static/again/" + turn + "/" + lost.getAttribute(name).split("/").pop());
        lost.replaceWith(again);
      }, Math.min(15000, 300 * Math.pow(2, own)));
    },
    true,
  );
})();
