-- Run by real_test.go: reads the request in $MOTET_ASK, [{file, places: [[line, byte], …]}, …], and writes into
-- $MOTET_ANSWER for each file the tree-sitter node at each place; where the tree has an error, that alone.
vim.treesitter.require_language('motet', vim.env.MOTET_PARSER)
local answers = {}
for _, ask in ipairs(vim.json.decode(table.concat(vim.fn.readfile(vim.env.MOTET_ASK), '\n'))) do
  local handle = io.open(ask.file, 'rb')
  local root = vim.treesitter.get_string_parser(handle:read('*a'), 'motet'):parse()[1]:root()
  handle:close()
  local nodes = { root:has_error() and 'ERROR' or 'good' }
  for _, at in ipairs(ask.places) do
    table.insert(nodes, root:named_descendant_for_range(at[1] - 1, at[2] - 1, at[1] - 1, at[2]):type())
  end
  table.insert(answers, nodes)
end
vim.fn.writefile({ vim.json.encode(answers) }, vim.env.MOTET_ANSWER)
vim.cmd('qall!')
