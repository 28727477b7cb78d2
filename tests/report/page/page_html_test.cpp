#include "report/page/data/page_html.h"

#include <gtest/gtest.h>

namespace proveout::page {
namespace {

std::size_t count(const std::string& text, const std::string& what) {
  std::size_t found = 0;
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + 1))
    ++found;
  return found;
}

PageData small(const std::string& title) {
  PageData data;
  data.about = {{"title", title}, {"verdict", title}};
  return data;
}

TEST(PageHtml, NoTextEndsTheScript) {
  if (!page_built_in()) return;  // built with PROVEOUT_PAGE=OFF: nothing to write
  const std::string plain = page_html(small("plain"));
  const std::string hostile = page_html(small("</script><script>alert(1)</script><!--\xE9\u2028"));
  EXPECT_EQ(count(plain, "</script"), count(hostile, "</script"));
  EXPECT_EQ(count(plain, "<script"), count(hostile, "<script"));
  EXPECT_EQ(count(plain, "<!--"), count(hostile, "<!--"));
}

// Unicode Standard, chapter 3, conformance clause C10: what is ill-formed is not passed on.
TEST(PageHtml, BytesThatAreNoUtf8AreReplaced) {
  if (!page_built_in()) return;
  const std::string page = page_html(small("caf\xC3\xA9 \xE9z \xED\xA0\x80|"));
  EXPECT_EQ(count(page, "<title>caf\xC3\xA9 \xEF\xBF\xBDz \xEF\xBF\xBD"), 1u);
  for (const char* bad : {"\xE9z", "\xED\xA0\x80"}) EXPECT_EQ(count(page, bad), 0u);
}

TEST(PageHtml, SameDataSameBytes) {
  if (!page_built_in()) return;
  EXPECT_EQ(page_html(small("one")), page_html(small("one")));
}

TEST(PageHtml, ReachesForNothingOutside) {
  if (!page_built_in()) return;
  const std::string page = page_html(small("one"));
  EXPECT_EQ(count(page, "src=\"http"), 0u);
  EXPECT_EQ(count(page, "href=\"http"), 0u);
  EXPECT_EQ(count(page, "url(http"), 0u);
  EXPECT_EQ(count(page, "default-src 'none'"), 1u);
  EXPECT_LT(page.size(), 1'000'000u);
}

// Only a page that looks for newer ones lets a script beside it in.
TEST(PageHtml, OnlyAWatchedPageReadsAScriptBesideIt) {
  if (!page_built_in()) return;
  PageData watched = small("one");
  watched.about["watched"] = "17";
  EXPECT_EQ(count(page_html(watched), "script-src 'unsafe-inline' 'self' file:; "), 1u);
  EXPECT_EQ(count(page_html(small("one")), "script-src 'unsafe-inline'; "), 1u);
  EXPECT_EQ(count(page_html(small("one")), " 'self'"), 0u);
}

// A page's data is read back as it went in; what is no page's, or another format's, is refused with
// a reason.
TEST(PageHtml, DataOfAPageIsReadBack) {
  if (!page_built_in()) return;
  PageData data = small("</script><b>\u2028 caf\xC3\xA9");
  data.about["result"] = {{"setups", {1, 2.5, "three"}}};
  const auto ref = data.columns.add(std::vector<double>{1, 2, 4}, 1, 1);
  const std::string page = page_html(data);
  std::string why;
  const auto read = read_page(page, why);
  ASSERT_TRUE(read) << why;
  EXPECT_EQ(read->about, packed(data).about);
  EXPECT_EQ(read->bulk, packed(data).bulk);
  EXPECT_EQ(page_html(*read), page);

  const auto refused = [](std::string text) {
    std::string reason;
    EXPECT_FALSE(read_page(text, reason));
    EXPECT_FALSE(reason.empty());
  };
  const auto spoilt = [&](const std::string& a, const std::string& b) {
    std::string text = page;
    const std::size_t at = text.find(a);
    EXPECT_NE(at, std::string::npos) << a;
    refused(text.replace(at, a.size(), b));
  };
  refused("");
  refused("<script type=\"application/json\" id=\"about\">{}");
  refused(page.substr(0, page.find(packed(data).bulk)));
  spoilt(packed(data).bulk, packed(data).bulk + "<b>x");
  spoilt(packed(data).bulk, "");
  spoilt("\"format\":1", "\"format\":0");
  spoilt("\"format\":1", "\"other\":1");
  spoilt("{\"title\"", "[\"title\"");
}

TEST(PageHtml, OthersStandBesideInScriptsOfTheirOwn) {
  if (!page_built_in()) return;
  const PackedData hostile = packed(small("</script><script>alert(1)</script><!--"));
  const std::vector<OtherPage> others = {{"</script><b>", hostile, ""},
                                         {"none", std::nullopt, "</script>there is none"},
                                         {"two", packed(small("two")), ""}};
  const std::string alone = page_html(small("one")), page = page_html(small("one"), others);
  EXPECT_EQ(count(page, "<script"), count(alone, "<script") + 4);
  EXPECT_EQ(count(page, "</script"), count(alone, "</script") + 4);
  EXPECT_EQ(count(page, "id=\"about-2\""), 1u);
  EXPECT_EQ(count(page, "id=\"about-3\""), 0u);
  // The page's own data is still the first that is read, and does not carry the others on.
  std::string why;
  const auto read = read_page(page, why);
  ASSERT_TRUE(read) << why;
  EXPECT_EQ(page_html(*read), alone);
}

}  // namespace
}  // namespace proveout::page
